"""SQL of the triggers that migrations put beside the tables they guard."""

FUNCTIONS = """
CREATE OR REPLACE FUNCTION raise_version() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF ROW(NEW.*) IS DISTINCT FROM ROW(OLD.*) THEN
        NEW.version := OLD.version + 1;
        NEW.updated_at := clock_timestamp();
    END IF;
    RETURN NEW;
END $$;
CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% is append-only: % is refused; record a correction instead', TG_TABLE_NAME, TG_OP
        USING ERRCODE = 'restrict_violation', CONSTRAINT = TG_TABLE_NAME || '_is_append_only';
END $$;
"""

DROP_FUNCTIONS = "DROP FUNCTION IF EXISTS raise_version(); DROP FUNCTION IF EXISTS refuse_change();"


def versioned(*tables: str) -> str:
    """Raise the version of a row whenever it really changes, whichever way the change comes."""
    return "".join(
        f"CREATE TRIGGER version_rises BEFORE UPDATE ON {table} FOR EACH ROW EXECUTE FUNCTION raise_version();\n"
        for table in tables
    )


def append_only(*tables: str) -> str:
    """Refuse UPDATE, DELETE and TRUNCATE. The trigger's name also tells which rights the application role loses."""
    return "".join(
        f"CREATE TRIGGER append_only BEFORE UPDATE OR DELETE ON {table} "
        f"FOR EACH ROW EXECUTE FUNCTION refuse_change();\n"
        f"CREATE TRIGGER append_only_whole BEFORE TRUNCATE ON {table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION refuse_change();\n"
        for table in tables
    )


def no_versioned(*tables: str) -> str:
    """Undo `versioned`."""
    return "".join(f"DROP TRIGGER IF EXISTS version_rises ON {table};\n" for table in tables)


def no_append_only(*tables: str) -> str:
    """Undo `append_only`."""
    return "".join(
        f"DROP TRIGGER IF EXISTS append_only ON {table};\nDROP TRIGGER IF EXISTS append_only_whole ON {table};\n"
        for table in tables
    )
