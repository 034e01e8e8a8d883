from django.db import migrations

# Whatever a verdict was computed from marks it when it changes, whichever way the change comes. A mark that is there
# already is touched, so that a computation that has begun does not swallow it.
FORWARD = """
CREATE FUNCTION mark_build_class() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (build_class_id) VALUES (NEW.id)
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER INSERT ON assets_buildclass FOR EACH ROW EXECUTE FUNCTION mark_build_class();

CREATE FUNCTION mark_classes_of_position() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (build_class_id)
        SELECT id FROM assets_buildclass
        WHERE pump_model_id = CASE WHEN TG_OP = 'DELETE' THEN OLD.pump_model_id ELSE NEW.pump_model_id END ORDER BY id
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER INSERT OR UPDATE OR DELETE ON assets_wearposition
    FOR EACH ROW EXECUTE FUNCTION mark_classes_of_position();

CREATE FUNCTION mark_kit() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF NEW.state IS DISTINCT FROM OLD.state OR NEW.scope_id IS DISTINCT FROM OLD.scope_id THEN
        INSERT INTO kits_fitmark (kit_id) VALUES (NEW.item_id)
            ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER UPDATE ON kits_kit FOR EACH ROW EXECUTE FUNCTION mark_kit();

CREATE FUNCTION mark_kits_of_part() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (kit_id)
        SELECT DISTINCT l.kit_id FROM kits_kitline l JOIN kits_kit k ON k.item_id = l.kit_id AND k.state = 'released'
        WHERE l.part_id = NEW.item_id ORDER BY 1
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER UPDATE OF specification, category ON kits_part
    FOR EACH ROW EXECUTE FUNCTION mark_kits_of_part();

CREATE FUNCTION mark_released_kits() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    INSERT INTO kits_fitmark (kit_id) SELECT item_id FROM kits_kit WHERE state = 'released' ORDER BY 1
        ON CONFLICT (kit_id, build_class_id) DO UPDATE SET marked_at = clock_timestamp();
    RETURN NULL;
END $$;
CREATE TRIGGER fit_is_marked AFTER INSERT OR UPDATE OR DELETE ON kits_supersession
    FOR EACH STATEMENT EXECUTE FUNCTION mark_released_kits();
CREATE TRIGGER fit_is_marked AFTER INSERT OR UPDATE OR DELETE ON kits_material
    FOR EACH STATEMENT EXECUTE FUNCTION mark_released_kits();
CREATE TRIGGER fit_is_marked AFTER INSERT OR UPDATE OR DELETE ON kits_materialrating
    FOR EACH STATEMENT EXECUTE FUNCTION mark_released_kits();
CREATE TRIGGER fit_is_marked AFTER INSERT OR UPDATE OR DELETE ON kits_kitscope_roles
    FOR EACH STATEMENT EXECUTE FUNCTION mark_released_kits();
"""
BACKWARD = """
DROP TRIGGER fit_is_marked ON kits_kitscope_roles;
DROP TRIGGER fit_is_marked ON kits_materialrating;
DROP TRIGGER fit_is_marked ON kits_material;
DROP TRIGGER fit_is_marked ON kits_supersession;
DROP TRIGGER fit_is_marked ON kits_part;
DROP TRIGGER fit_is_marked ON kits_kit;
DROP TRIGGER fit_is_marked ON assets_wearposition;
DROP TRIGGER fit_is_marked ON assets_buildclass;
DROP FUNCTION mark_released_kits();
DROP FUNCTION mark_kits_of_part();
DROP FUNCTION mark_kit();
DROP FUNCTION mark_classes_of_position();
DROP FUNCTION mark_build_class();
"""


class Migration(migrations.Migration):
    dependencies = [("kits", "0003_order_numbers"), ("assets", "0002_guards")]

    operations = [migrations.RunSQL(FORWARD, BACKWARD)]
