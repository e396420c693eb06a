"""Give each car its tag, and each entry the number that its car raced with."""

from django.db import migrations
from django.db.models import OuterRef, Subquery

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
PREFIX = "C"
LEAST_SIGNS = 4


def tag_of(number):
    signs = ""
    while number or len(signs) < LEAST_SIGNS:
        number, rest = divmod(number, len(SIGNS))
        signs = SIGNS[rest] + signs
    body = PREFIX + signs
    total = sum(n * SIGNS.index(sign) for n, sign in enumerate(body, start=2))
    return body + SIGNS[-total % len(SIGNS)]


def fill(apps, schema_editor):
    Car = apps.get_model("inspection", "Car")
    Entry = apps.get_model("inspection", "Entry")
    cars = list(Car.objects.only("pk"))
    for car in cars:
        car.tag = tag_of(car.pk)
    Car.objects.bulk_update(cars, ["tag"], batch_size=500)
    numbers = Car.objects.filter(pk=OuterRef("car")).values("number")
    Entry.objects.update(number=Subquery(numbers))


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0010_car_tags"),
    ]

    operations = [
        # Going back drops the columns themselves.
        migrations.RunPython(fill, migrations.RunPython.noop),
    ]
