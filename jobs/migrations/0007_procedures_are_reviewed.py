import django.db.models.deletion
import django.db.models.functions.datetime
import services.api.identifiers
from django.conf import settings
from django.db import migrations, models

from services.api import guards

# Each revision has a title and scope of its own from now on: those of its procedure so far. Consumables that were texts
# become named things, also those of published steps, whose meaning does not change: their guard rests for this.
FILL = """
UPDATE jobs_procedurerevision SET title = jobs_procedure.title, scope_words = jobs_procedure.scope_words
    FROM jobs_procedure WHERE jobs_procedure.id = procedure_id;
ALTER TABLE jobs_step DISABLE TRIGGER published_revision_never_changes;
UPDATE jobs_step SET consumables = (
    SELECT jsonb_agg(
        CASE WHEN jsonb_typeof(one) = 'string'
             THEN jsonb_build_object('name', one, 'kind', 'other', 'note', '') ELSE one END ORDER BY place
    ) FROM jsonb_array_elements(consumables) WITH ORDINALITY AS listed (one, place)
) WHERE jsonb_array_length(consumables) > 0;
ALTER TABLE jobs_step ENABLE TRIGGER published_revision_never_changes;
"""
EMPTY = """
ALTER TABLE jobs_procedurerevision DISABLE TRIGGER published_revision_never_changes;
UPDATE jobs_procedurerevision SET state = CASE state WHEN 'superseded' THEN 'withdrawn' ELSE 'draft' END
    WHERE state IN ('in-review', 'reviewed', 'superseded');
ALTER TABLE jobs_procedurerevision ENABLE TRIGGER published_revision_never_changes;
ALTER TABLE jobs_step DISABLE TRIGGER published_revision_never_changes;
UPDATE jobs_step SET consumables = (
    SELECT jsonb_agg(one -> 'name' ORDER BY place)
    FROM jsonb_array_elements(consumables) WITH ORDINALITY AS listed (one, place)
) WHERE jsonb_array_length(consumables) > 0;
ALTER TABLE jobs_step ENABLE TRIGGER published_revision_never_changes;
"""
# What a revision says may change in a draft only, and its state takes only the ways that the workshop knows.
FROZEN = """
CREATE OR REPLACE FUNCTION refuse_change_of_published_revision() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF TG_OP = 'DELETE' THEN
        IF OLD.state <> 'draft' THEN
            RAISE EXCEPTION 'a published revision never changes; prepare a new one'
                USING ERRCODE = 'restrict_violation', CONSTRAINT = 'published_revision_never_changes';
        END IF;
        RETURN OLD;
    END IF;
    IF OLD.state <> 'draft' AND (
        ROW(NEW.procedure_id, NEW.revision, NEW.content_hash, NEW.prepared_by, NEW.title, NEW.scope_words)
        IS DISTINCT FROM
        ROW(OLD.procedure_id, OLD.revision, OLD.content_hash, OLD.prepared_by, OLD.title, OLD.scope_words)
    ) OR OLD.state IN ('published', 'superseded', 'withdrawn') AND (
        ROW(NEW.published_at, NEW.published_by_id, NEW.reviewed_at, NEW.reviewed_by_id, NEW.submitted_by_id)
        IS DISTINCT FROM
        ROW(OLD.published_at, OLD.published_by_id, OLD.reviewed_at, OLD.reviewed_by_id, OLD.submitted_by_id)
    ) OR NEW.state <> OLD.state AND (OLD.state, NEW.state) NOT IN (
        ('draft', 'in-review'), ('in-review', 'draft'), ('in-review', 'reviewed'), ('reviewed', 'draft'),
        ('reviewed', 'published'), ('published', 'superseded'), ('published', 'withdrawn'), ('superseded', 'withdrawn')
    ) THEN
        RAISE EXCEPTION 'a published revision never changes; prepare a new one'
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'published_revision_never_changes';
    END IF;
    RETURN NEW;
END $$;
"""
FROZEN_BEFORE = """
CREATE OR REPLACE FUNCTION refuse_change_of_published_revision() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    IF OLD.state <> 'draft' AND (
        TG_OP = 'DELETE' OR NEW.state = 'draft'
        OR ROW(NEW.procedure_id, NEW.revision, NEW.content_hash, NEW.prepared_by, NEW.published_at, NEW.published_by_id)
           IS DISTINCT FROM
           ROW(OLD.procedure_id, OLD.revision, OLD.content_hash, OLD.prepared_by, OLD.published_at, OLD.published_by_id)
    ) THEN
        RAISE EXCEPTION 'a published revision never changes; prepare a new one'
            USING ERRCODE = 'restrict_violation', CONSTRAINT = 'published_revision_never_changes';
    END IF;
    RETURN CASE WHEN TG_OP = 'DELETE' THEN OLD ELSE NEW END;
END $$;
"""


class Migration(migrations.Migration):

    dependencies = [
        ('jobs', '0006_offline_records'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='RevisionAct',
            fields=[
                ('id', models.UUIDField(default=services.api.identifiers.new_id, editable=False, primary_key=True, serialize=False)),
                ('act', models.CharField(choices=[('drafted', 'Drafted'), ('changed', 'Changed'), ('submitted', 'Submitted'), ('sent-back', 'Sent Back'), ('reviewed', 'Reviewed'), ('published', 'Published'), ('superseded', 'Superseded'), ('withdrawn', 'Withdrawn')], max_length=10)),
                ('remarks', models.TextField(blank=True)),
                ('content_hash', models.CharField(help_text='Of what it was done with.', max_length=71)),
                ('at', models.DateTimeField(db_default=django.db.models.functions.datetime.Now(), editable=False)),
            ],
        ),
        migrations.RemoveConstraint(
            model_name='procedurerevision',
            name='revision_state_is_known',
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='reviewed_at',
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='reviewed_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='scope_words',
            field=models.TextField(blank=True, db_default='', default=''),
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='submitted_at',
            field=models.DateTimeField(null=True),
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='submitted_by',
            field=models.ForeignKey(null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='procedurerevision',
            name='title',
            field=models.CharField(blank=True, db_default='', default='', max_length=200),
        ),
        migrations.AddField(
            model_name='step',
            name='achieves',
            field=models.JSONField(db_default=[], default=list, help_text='What other steps rely on; see procedure_format.'),
        ),
        migrations.AddField(
            model_name='step',
            name='look_at',
            field=models.TextField(blank=True, db_default='', default='', help_text='What the second person looks at.'),
        ),
        migrations.AddField(
            model_name='step',
            name='photos',
            field=models.JSONField(db_default=[], default=list, help_text='Each with what it shows and whether it is needed.'),
        ),
        migrations.RunSQL(FILL, EMPTY),
        migrations.AlterField(
            model_name='procedurerevision',
            name='state',
            field=models.CharField(choices=[('draft', 'Draft'), ('in-review', 'In Review'), ('reviewed', 'Reviewed'), ('published', 'Published'), ('superseded', 'Superseded'), ('withdrawn', 'Withdrawn')], default='draft', max_length=10),
        ),
        migrations.AlterField(
            model_name='step',
            name='consumables',
            field=models.JSONField(default=list, help_text='Each with name, kind and note.'),
        ),
        migrations.AddConstraint(
            model_name='procedurerevision',
            constraint=models.CheckConstraint(condition=models.Q(('state__in', ['draft', 'in-review', 'reviewed', 'published', 'superseded', 'withdrawn'])), name='revision_state_is_known'),
        ),
        migrations.AddConstraint(
            model_name='procedurerevision',
            constraint=models.CheckConstraint(condition=models.Q(('reviewed_by', None), ('submitted_by', None), models.Q(('reviewed_by', models.F('submitted_by')), _negated=True), _connector='OR'), name='revision_is_reviewed_by_another'),
        ),
        migrations.AddConstraint(
            model_name='procedurerevision',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('state', 'reviewed'), _negated=True), ('reviewed_by__isnull', False), _connector='OR'), name='reviewed_revision_names_who_looked'),
        ),
        migrations.AddField(
            model_name='revisionact',
            name='by',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL),
        ),
        migrations.AddField(
            model_name='revisionact',
            name='revision',
            field=models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='acts', to='jobs.procedurerevision'),
        ),
        migrations.AddIndex(
            model_name='revisionact',
            index=models.Index(fields=['revision', 'id'], name='act_by_revision'),
        ),
        migrations.AddConstraint(
            model_name='revisionact',
            constraint=models.CheckConstraint(condition=models.Q(('act__in', ['drafted', 'changed', 'submitted', 'sent-back', 'reviewed', 'published', 'superseded', 'withdrawn'])), name='act_on_revision_is_known'),
        ),
        migrations.AddConstraint(
            model_name='revisionact',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('act__in', ['sent-back', 'withdrawn']), _negated=True), models.Q(('remarks', ''), _negated=True), _connector='OR'), name='act_on_revision_says_why'),
        ),
        migrations.RunSQL(
            FROZEN + guards.append_only("jobs_revisionact"),
            guards.no_append_only("jobs_revisionact") + FROZEN_BEFORE,
        ),
    ]
