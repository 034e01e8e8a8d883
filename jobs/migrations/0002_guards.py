from django.db import migrations

from services.api import guards

VERSIONED = (
    "jobs_procedure",
    "jobs_procedurerevision",
    "jobs_instrument",
    "jobs_job",
    "jobs_jobstep",
    "jobs_fittedpart",
    "jobs_nonconformity",
)
APPEND_ONLY = ("jobs_measurement", "jobs_signoff")

# A published revision never changes under a running job: only its state may still move.
PUBLISHED = """
CREATE FUNCTION refuse_change_of_published_revision() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> $q$draft$q$ AND (
        TG_OP = $q$DELETE$q$ OR NEW.state = $q$draft$q$
        OR ROW(NEW.procedure_id, NEW.revision, NEW.content_hash, NEW.prepared_by, NEW.published_at, NEW.published_by_id)
           IS DISTINCT FROM
           ROW(OLD.procedure_id, OLD.revision, OLD.content_hash, OLD.prepared_by, OLD.published_at, OLD.published_by_id)
    ) THEN
        RAISE EXCEPTION $q$a published revision never changes; prepare a new one$q$
            USING ERRCODE = $q$restrict_violation$q$, CONSTRAINT = $q$published_revision_never_changes$q$;
    END IF;
    RETURN CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER published_revision_never_changes BEFORE UPDATE OR DELETE ON jobs_procedurerevision
    FOR EACH ROW EXECUTE FUNCTION refuse_change_of_published_revision();

CREATE FUNCTION refuse_change_of_published_step() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    one uuid := CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD.revision_id ELSE NEW.revision_id END;
BEGIN
    IF EXISTS (SELECT 1 FROM jobs_procedurerevision WHERE id = one AND state <> $q$draft$q$) THEN
        RAISE EXCEPTION $q$a published revision never changes; prepare a new one$q$
            USING ERRCODE = $q$restrict_violation$q$, CONSTRAINT = $q$published_revision_never_changes$q$;
    END IF;
    RETURN CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER published_revision_never_changes BEFORE INSERT OR UPDATE OR DELETE ON jobs_step
    FOR EACH ROW EXECUTE FUNCTION refuse_change_of_published_step();

CREATE FUNCTION refuse_change_of_published_characteristic() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    one uuid := CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD.step_id ELSE NEW.step_id END;
BEGIN
    IF EXISTS (
        SELECT 1 FROM jobs_step JOIN jobs_procedurerevision ON jobs_procedurerevision.id = jobs_step.revision_id
        WHERE jobs_step.id = one AND state <> $q$draft$q$
    ) THEN
        RAISE EXCEPTION $q$a published revision never changes; prepare a new one$q$
            USING ERRCODE = $q$restrict_violation$q$, CONSTRAINT = $q$published_revision_never_changes$q$;
    END IF;
    RETURN CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER published_revision_never_changes BEFORE INSERT OR UPDATE OR DELETE ON jobs_characteristic
    FOR EACH ROW EXECUTE FUNCTION refuse_change_of_published_characteristic();
"""
UNPUBLISHED = """
DROP TRIGGER published_revision_never_changes ON jobs_characteristic;
DROP TRIGGER published_revision_never_changes ON jobs_step;
DROP TRIGGER published_revision_never_changes ON jobs_procedurerevision;
DROP FUNCTION refuse_change_of_published_characteristic();
DROP FUNCTION refuse_change_of_published_step();
DROP FUNCTION refuse_change_of_published_revision();
"""
FORWARD = guards.versioned(*VERSIONED) + guards.append_only(*APPEND_ONLY) + PUBLISHED.replace("$q$", chr(39))
BACKWARD = UNPUBLISHED + guards.no_append_only(*APPEND_ONLY) + guards.no_versioned(*VERSIONED)


class Migration(migrations.Migration):
    dependencies = [("jobs", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
