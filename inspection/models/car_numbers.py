"""Numbers of cars in the order in which people count."""

from typing import Any

from django.db.models import Func, IntegerField
from django.db.models.functions import Cast


class LeadingNumber(Func):
    """The whole number with which a text begins; 0 where it begins with none."""

    output_field = IntegerField()
    arity = 1

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return Cast(self.source_expressions[0], IntegerField()).as_sql(
            compiler, connection, **extra
        )

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler,
            connection,
            template="COALESCE(SUBSTRING(%(expressions)s FROM '^[0-9]+')::integer, 0)",
            **extra,
        )


def by_number(of: str = "") -> tuple[LeadingNumber | str, str]:
    """Give what to order by, for the numbers of the cars themselves or of ``of``."""
    field = f"{of}number"
    return (LeadingNumber(field), field)
