"""Keep what the chief rules of sealed sheets, and where an edition moved."""

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import RefuseWrites, append_only


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0022_fill_declared_values'),
        ('inventory', '0014_hashed_audit_rows'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='EditionMove',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('reason', models.CharField(max_length=200)),
                ('after', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.edition')),
                ('before', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.edition')),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('night', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='edition_moves', to='inspection.racenight')),
                ('race_class', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inspection.raceclass')),
            ],
            options={
                'ordering': ['at', 'id'],
            },
        ),
        migrations.CreateModel(
            name='JudgedAgain',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('decision', models.CharField(choices=[('passed', 'passed'), ('sent back', 'sent back')], max_length=10)),
                ('rules', models.CharField(blank=True, max_length=200)),
                ('move', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='judged', to='inspection.editionmove')),
                ('sheet', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='judged_again', to='inspection.sheet')),
            ],
            options={
                'verbose_name_plural': 'judged again',
            },
        ),
        migrations.CreateModel(
            name='SheetRuling',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('ruling', models.CharField(choices=[('stands', 'stands'), ('void', 'void'), ('measure again', 'measure again')], max_length=14)),
                ('at', models.DateTimeField()),
                ('reason', models.CharField(max_length=200)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('gauge_check', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.gaugecheck')),
                ('judged_again', models.OneToOneField(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='ruling', to='inspection.judgedagain')),
                ('sheet', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='rulings', to='inspection.sheet')),
            ],
            options={
                'ordering': ['at', 'id'],
            },
        ),
        migrations.AddConstraint(
            model_name='editionmove',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='edition_move_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='judgedagain',
            constraint=models.CheckConstraint(condition=models.Q(('decision__in', ['passed', 'sent back'])), name='judged_again_decision_is_known', violation_error_code='judged_again_decision_is_known'),
        ),
        migrations.AddConstraint(
            model_name='judgedagain',
            constraint=models.UniqueConstraint(fields=('move', 'sheet'), name='judged_again_once_a_move'),
        ),
        migrations.AddConstraint(
            model_name='sheetruling',
            constraint=models.CheckConstraint(condition=models.Q(('ruling__in', ['stands', 'void', 'measure again'])), name='ruling_is_known', violation_error_code='ruling_is_known'),
        ),
        migrations.AddConstraint(
            model_name='sheetruling',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='ruling_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='sheetruling',
            constraint=models.CheckConstraint(condition=models.Q(models.Q(('gauge_check', None), ('judged_again__isnull', False)), models.Q(('gauge_check__isnull', False), ('judged_again', None)), _connector='OR'), name='ruling_answers_one_question'),
        ),
        migrations.AddConstraint(
            model_name='sheetruling',
            constraint=models.UniqueConstraint(fields=('sheet', 'gauge_check'), name='one_ruling_a_failed_check'),
        ),
        append_only("inspection_editionmove"),
        append_only("inspection_judgedagain"),
        append_only("inspection_sheetruling", unique=["judged_again_id"]),
        RefuseWrites(
            "inspection_judgedagain",
            name="once",
            message="inspection_judgedagain: rows are never changed",
            replace="EXISTS (SELECT 1 FROM inspection_judgedagain "
            "WHERE move_id = NEW.move_id AND sheet_id = NEW.sheet_id)",
        ),
        RefuseWrites(
            "inspection_sheetruling",
            name="once",
            message="inspection_sheetruling: rows are never changed",
            replace="EXISTS (SELECT 1 FROM inspection_sheetruling WHERE "
            "sheet_id = NEW.sheet_id AND gauge_check_id = NEW.gauge_check_id)",
        ),
    ]
