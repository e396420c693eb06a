"""
Indexes that Django does not make or drop as they are wanted here.

SQLite's own way to alter a column copies the table and drops the old one, and with it
the triggers that keep its rows; an index can go by itself.
"""

from typing import Any

from django.db.migrations.operations import AddIndex, AlterField
from django.db.models import Index


class DropColumnIndex(AlterField):
    """Alter a column in nothing but that it has no index of its own any more."""

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        model = from_state.apps.get_model(app_label, self.model_name)
        declared = {index.name for index in model._meta.indexes}
        names = schema_editor._constraint_names(
            model,
            [model._meta.get_field(self.name).column],
            index=True,
            unique=False,
            type_=Index.suffix,
            exclude=declared,
        )
        for name in names:
            schema_editor.execute(schema_editor._delete_index_sql(model, name))

    def database_backwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        model = to_state.apps.get_model(app_label, self.model_name)
        field = model._meta.get_field(self.name)
        schema_editor.execute(schema_editor._create_index_sql(model, fields=[field]))

    def describe(self) -> str:
        return f"Drop the index on {self.name} of {self.model_name}"


class AddBeginningIndex(AddIndex):
    """
    Add an index of one folded column by which a text's beginning is looked up.

    PostgreSQL wants to be told that patterns are looked up by it; SQLite does not
    know the word.
    """

    def database_forwards(
        self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any
    ) -> None:
        if schema_editor.connection.vendor != "postgresql":
            super().database_forwards(app_label, schema_editor, from_state, to_state)
            return
        model = to_state.apps.get_model(app_label, self.model_name)
        (folded,) = self.index.expressions
        (named,) = folded.get_source_expressions()
        quote = schema_editor.quote_name
        column = quote(model._meta.get_field(named.name).column)
        schema_editor.execute(
            f"CREATE INDEX {quote(self.index.name)} ON "
            f"{quote(model._meta.db_table)} (LOWER({column}) text_pattern_ops)"
        )
