from django.db import migrations

from services.api import guards

VERSIONED = (
    "kits_storagegroup",
    "kits_material",
    "kits_materialrating",
    "kits_lubricant",
    "kits_lubricantadvice",
    "kits_kitscope",
    "kits_servicetarget",
    "kits_item",
    "kits_supersession",
    "kits_kitline",
    "kits_coverage",
    "kits_supplier",
    "kits_supplierterms",
    "kits_order",
    "kits_orderline",
    "kits_lot",
    "kits_reservation",
    "kits_proposal",
)
APPEND_ONLY = ("kits_movement",)

# A released revision of a kit never changes: its lines are closed from then on.
RELEASED = """
CREATE FUNCTION refuse_change_of_released_kit() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE
    kit uuid := CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD.kit_id ELSE NEW.kit_id END;
BEGIN
    IF EXISTS (SELECT 1 FROM kits_kit WHERE item_id = kit AND state <> $q$draft$q$) THEN
        RAISE EXCEPTION $q$a released kit never changes; make a new revision$q$
            USING ERRCODE = $q$restrict_violation$q$, CONSTRAINT = $q$released_kit_never_changes$q$;
    END IF;
    RETURN CASE WHEN TG_OP = $q$DELETE$q$ THEN OLD ELSE NEW END;
END $$;
CREATE TRIGGER released_kit_never_changes BEFORE INSERT OR UPDATE OR DELETE ON kits_kitline
    FOR EACH ROW EXECUTE FUNCTION refuse_change_of_released_kit();
"""
UNRELEASED = """
DROP TRIGGER released_kit_never_changes ON kits_kitline;
DROP FUNCTION refuse_change_of_released_kit();
"""
FORWARD = guards.versioned(*VERSIONED) + guards.append_only(*APPEND_ONLY) + RELEASED.replace("$q$", chr(39))
BACKWARD = UNRELEASED + guards.no_append_only(*APPEND_ONLY) + guards.no_versioned(*VERSIONED)


class Migration(migrations.Migration):
    dependencies = [("kits", "0001_initial"), ("api", "0002_guard_functions")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
