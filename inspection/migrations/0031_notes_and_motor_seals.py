"""Let scrutineers note things with pictures, and keep motor seals by number."""

import django.db.models.deletion
import django.db.models.functions.text
from django.conf import settings
from django.db import migrations, models

from inventory.migrations._refusals import RefuseWrites, append_only


def _ended(table: str, word: str) -> RefuseWrites:
    """Refuse a note on a sheet that is sealed or void."""
    return RefuseWrites(
        "inspection_sheetnote",
        name=word,
        message=f"inspection_sheetnote: the sheet is {word}",
        insert=f"EXISTS (SELECT 1 FROM {table} WHERE sheet_id = NEW.sheet_id)",
    )


def _ended_picture(table: str, word: str) -> RefuseWrites:
    return RefuseWrites(
        "inspection_notepicture",
        name=word,
        message=f"inspection_notepicture: the sheet is {word}",
        insert=f"EXISTS (SELECT 1 FROM {table} e JOIN inspection_sheetnote n "
        "ON n.sheet_id = e.sheet_id WHERE n.id = NEW.note_id)",
    )


class Migration(migrations.Migration):

    dependencies = [
        ('inspection', '0030_walls'),
        ('inventory', '0019_families'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='MotorSeal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('number', models.CharField(max_length=20)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('car', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='motor_seals', to='inspection.car')),
                ('motor', models.ForeignKey(blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, related_name='+', to='inventory.part')),
            ],
            options={
                'ordering': ['-at', '-id'],
            },
        ),
        migrations.CreateModel(
            name='BrokenSeal',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('at', models.DateTimeField()),
                ('reason', models.CharField(max_length=200)),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('motor_seal', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='broken', to='inspection.motorseal')),
            ],
        ),
        migrations.CreateModel(
            name='SheetNote',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('text', models.CharField(max_length=500)),
                ('at', models.DateTimeField()),
                ('by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
                ('sheet', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='notes', to='inspection.sheet')),
            ],
            options={
                'ordering': ['id'],
            },
        ),
        migrations.CreateModel(
            name='NotePicture',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('jpeg', models.BinaryField()),
                ('sha256', models.CharField(max_length=64)),
                ('width', models.PositiveSmallIntegerField()),
                ('height', models.PositiveSmallIntegerField()),
                ('note', models.OneToOneField(on_delete=django.db.models.deletion.PROTECT, related_name='picture', to='inspection.sheetnote')),
            ],
        ),
        migrations.AddConstraint(
            model_name='motorseal',
            constraint=models.CheckConstraint(condition=models.Q(('number', ''), _negated=True), name='motor_seal_has_a_number'),
        ),
        migrations.AddConstraint(
            model_name='motorseal',
            constraint=models.UniqueConstraint(django.db.models.functions.text.Lower('number'), name='one_motor_seal_a_number'),
        ),
        migrations.AddConstraint(
            model_name='brokenseal',
            constraint=models.CheckConstraint(condition=models.Q(('reason', ''), _negated=True), name='broken_seal_has_a_reason'),
        ),
        migrations.AddConstraint(
            model_name='sheetnote',
            constraint=models.CheckConstraint(condition=models.Q(('text', ''), _negated=True), name='note_says_something'),
        ),
        append_only("inspection_sheetnote"),
        _ended("inspection_seal", "sealed"),
        _ended("inspection_sheetvoid", "void"),
        append_only("inspection_notepicture", unique=["note_id"]),
        _ended_picture("inspection_seal", "sealed"),
        _ended_picture("inspection_sheetvoid", "void"),
        append_only("inspection_motorseal"),
        RefuseWrites(
            "inspection_motorseal",
            name="once",
            message="inspection_motorseal: rows are never changed",
            replace="EXISTS (SELECT 1 FROM inspection_motorseal "
            "WHERE LOWER(number) = LOWER(NEW.number))",
        ),
        append_only("inspection_brokenseal", unique=["motor_seal_id"]),
    ]
