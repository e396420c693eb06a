"""Let no sign-in name be taken for another before the database refuses it."""

from django.db import migrations

ALIKE = (("0", "o"), ("1", "l"), ("i", "l"), ("rn", "m"), ("vv", "w"), (".", ""), ("-", ""))


def look_of(name):
    look = name.lower()
    for sign, other in ALIKE:
        look = look.replace(sign, other)
    return look


def tell_apart(apps, schema_editor):
    """Of two names that look alike the later person's gets a number behind it."""
    Person = apps.get_model("inventory", "Person")
    taken = set()
    for person in Person.objects.order_by("pk"):
        name, number = person.sign_in_name, 1
        while look_of(name) in taken:
            number += 1
            name = f"{person.sign_in_name[:36]}-{number}"
        taken.add(look_of(name))
        if name != person.sign_in_name:
            Person.objects.filter(pk=person.pk).update(sign_in_name=name)


class Migration(migrations.Migration):
    dependencies = [
        ("inventory", "0022_stocktakes"),
    ]

    operations = [
        migrations.RunPython(tell_apart, migrations.RunPython.noop),
    ]
