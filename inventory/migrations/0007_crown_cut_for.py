"""Say of a crown which pinion it is cut for."""

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('inventory', '0006_kept_draws'),
    ]

    operations = [
        migrations.AddField(
            model_name='gear',
            name='cut_for_teeth',
            field=models.PositiveSmallIntegerField(blank=True, null=True),
        ),
        migrations.AddConstraint(
            model_name='gear',
            constraint=models.CheckConstraint(condition=models.Q(('cut_for_teeth', None), models.Q(('cut_for_teeth__gte', 4), ('cut_for_teeth__lte', 60), ('role', 'crown')), _connector='OR'), name='crown_is_cut_for_a_pinion', violation_error_code='crown_is_cut_for_a_pinion'),
        ),
    ]
