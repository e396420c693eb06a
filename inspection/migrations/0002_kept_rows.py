"""Let the database refuse to change what was published, recorded or sealed."""

from django.db import migrations

from inventory.migrations._refusals import RefuseWrites, append_only


def _published(edition: str) -> str:
    return (
        "EXISTS (SELECT 1 FROM inspection_edition "
        f"WHERE id = {edition} AND published_at IS NOT NULL)"
    )


def _rule_published(row: str) -> str:
    return (
        "EXISTS (SELECT 1 FROM inspection_edition e JOIN inspection_rule r "
        f"ON r.edition_id = e.id WHERE r.id = {row}.rule_id "
        "AND e.published_at IS NOT NULL)"
    )


class Migration(migrations.Migration):
    dependencies = [
        ("inspection", "0001_initial"),
        ("inventory", "0002_kept_rows"),
    ]

    operations = [
        RefuseWrites(
            "inspection_edition",
            message="inspection_edition: a published edition is never changed",
            update="OLD.published_at IS NOT NULL",
            delete="OLD.published_at IS NOT NULL",
            replace="EXISTS (SELECT 1 FROM inspection_edition WHERE "
            "published_at IS NOT NULL AND (id = NEW.id OR "
            "(rulebook_id = NEW.rulebook_id AND number = NEW.number)))",
        ),
        RefuseWrites(
            "inspection_rule",
            message="inspection_rule: a published edition is never changed",
            update=f"{_published('OLD.edition_id')} OR {_published('NEW.edition_id')}",
            delete=_published("OLD.edition_id"),
            insert=_published("NEW.edition_id"),
            replace="EXISTS (SELECT 1 FROM inspection_rule WHERE id = NEW.id)",
        ),
        RefuseWrites(
            "inspection_ruleclass",
            message="inspection_ruleclass: a published edition is never changed",
            update=f"{_rule_published('OLD')} OR {_rule_published('NEW')}",
            delete=_rule_published("OLD"),
            insert=_rule_published("NEW"),
            replace="EXISTS (SELECT 1 FROM inspection_ruleclass WHERE id = NEW.id)",
        ),
        append_only("inspection_entrymove"),
        append_only("inspection_sheet", unique=["number"]),
        append_only("inspection_sheetpart"),
        append_only("inspection_sheetreading", unique=["reading_id"]),
        RefuseWrites(
            "inspection_sheetreading",
            name="sealed",
            message="inspection_sheetreading: the sheet is sealed",
            insert="EXISTS (SELECT 1 FROM inspection_seal "
            "WHERE sheet_id = NEW.sheet_id)",
        ),
        append_only("inspection_strike", unique=["reading_id"]),
        RefuseWrites(
            "inspection_strike",
            name="sealed",
            message="inspection_strike: the sheet is sealed",
            insert="EXISTS (SELECT 1 FROM inspection_seal s "
            "JOIN inspection_sheetreading r ON r.sheet_id = s.sheet_id "
            "WHERE r.id = NEW.reading_id)",
        ),
        append_only("inspection_finding"),
        append_only("inspection_seal", unique=["sheet_id", "sha256"]),
        RefuseWrites(
            "inspection_carvalue",
            message="inspection_carvalue: a value is only ever superseded",
            update="OLD.superseded_at IS NOT NULL OR NEW.value <> OLD.value",
            delete="TRUE",
        ),
    ]
