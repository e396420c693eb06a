"""Let the club say what members see, how figures are written, how long people stay."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0026_shared_parts'),
    ]

    operations = [
        migrations.AddField(
            model_name='club',
            name='decimal_sign',
            field=models.CharField(choices=[('.', '.'), (',', ',')], default='.', max_length=1),
        ),
        migrations.AddField(
            model_name='club',
            name='keeps_people_months',
            field=models.PositiveSmallIntegerField(default=0),
        ),
        migrations.AddField(
            model_name='club',
            name='lengths_in',
            field=models.CharField(choices=[('mm', 'mm'), ('in', 'in')], default='mm', max_length=2),
        ),
        migrations.AddField(
            model_name='club',
            name='members_see',
            field=models.CharField(choices=[('their own', 'their own'), ('every sealed sheet', 'every sealed sheet')], default='their own', max_length=20),
        ),
        migrations.AddField(
            model_name='club',
            name='shows_hall',
            field=models.BooleanField(default=True),
        ),
        migrations.AddConstraint(
            model_name='club',
            constraint=models.CheckConstraint(condition=models.Q(('members_see__in', ['their own', 'every sealed sheet'])), name='members_see_is_known', violation_error_code='members_see_is_known'),
        ),
        migrations.AddConstraint(
            model_name='club',
            constraint=models.CheckConstraint(condition=models.Q(('lengths_in__in', ['mm', 'in'])), name='lengths_in_is_known', violation_error_code='lengths_in_is_known'),
        ),
        migrations.AddConstraint(
            model_name='club',
            constraint=models.CheckConstraint(condition=models.Q(('decimal_sign__in', ['.', ','])), name='decimal_sign_is_known', violation_error_code='decimal_sign_is_known'),
        ),
    ]
