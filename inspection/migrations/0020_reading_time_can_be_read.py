"""No reading has a time that cannot be read."""

import datetime as dt

from django.db import migrations, models

from inventory.migrations._refusals import ChangeKept

_EARLIEST = dt.datetime(1900, 1, 1, tzinfo=dt.timezone.utc)
_LATEST = dt.datetime(2200, 1, 1, tzinfo=dt.timezone.utc)


class Migration(migrations.Migration):
    dependencies = [("inspection", "0019_mend_reading_times")]

    operations = [
        ChangeKept(
            [
                migrations.AddConstraint(
                    model_name="sheetreading",
                    constraint=models.CheckConstraint(
                        condition=models.Q(
                            ("received_at__gte", _EARLIEST),
                            ("received_at__lt", _LATEST),
                            ("taken_at__gte", _EARLIEST),
                            ("taken_at__lt", _LATEST),
                        ),
                        name="reading_time_can_be_read",
                        violation_error_code="reading_time_can_be_read",
                    ),
                ),
            ]
        ),
    ]
