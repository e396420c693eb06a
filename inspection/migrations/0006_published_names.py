"""Keep the names that a published edition speaks by: they are in its checksum."""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites


def _has_published(rulebook: str) -> str:
    return (
        "EXISTS (SELECT 1 FROM inspection_edition "
        f"WHERE rulebook_id = {rulebook} AND published_at IS NOT NULL)"
    )


def _is_spoken_of(race_class: str) -> str:
    return (
        "EXISTS (SELECT 1 FROM inspection_ruleclass c "
        "JOIN inspection_rule r ON r.id = c.rule_id "
        "JOIN inspection_edition e ON e.id = r.edition_id "
        f"WHERE c.race_class_id = {race_class} AND e.published_at IS NOT NULL)"
    )


def _replaces(table: str, condition: str) -> str:
    return (
        f"EXISTS (SELECT 1 FROM {table} old "
        f"WHERE (old.id = NEW.id OR old.name = NEW.name) AND {condition})"
    )


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0005_room_and_jigs"),
    ]

    operations = [
        RefuseWrites(
            "inspection_rulebook",
            name="named",
            message="inspection_rulebook: a published edition is never renamed",
            update="(NEW.id <> OLD.id OR NEW.name <> OLD.name) AND "
            + _has_published("OLD.id"),
            delete=_has_published("OLD.id"),
            replace=_replaces("inspection_rulebook", _has_published("old.id")),
        ),
        RefuseWrites(
            "inspection_raceclass",
            name="named",
            message="inspection_raceclass: a published rule speaks of it by this name",
            update="(NEW.id <> OLD.id OR NEW.name <> OLD.name) AND "
            + _is_spoken_of("OLD.id"),
            delete=_is_spoken_of("OLD.id"),
            replace=_replaces("inspection_raceclass", _is_spoken_of("old.id")),
        ),
    ]
