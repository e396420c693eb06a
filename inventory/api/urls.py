"""The addresses of the API of parts, gauges and people."""

from inventory.api.account import operations as account
from inventory.api.changes import operations as changes
from inventory.api.foundation.views import route
from inventory.api.gauges import operations as gauges
from inventory.api.lists import operations as lists
from inventory.api.pairs import drafts, pairs
from inventory.api.parts import moves, parts

_PART = "parts/<tag:tag>"
_PAIR = "pairs/<tag:tag>"

urlpatterns = [
    route("me", "me", get=account.who_asks),
    route("parts", "parts", get=parts.list_parts, post=parts.take_in_parts),
    route("changes", "changes", get=changes.list_changes),
    route("parts/export.csv", "parts_csv", get=lists.as_csv),
    route("parts/export.jsonl", "parts_jsonl", get=lists.as_json_lines),
    route("parts/export.xlsx", "parts_xlsx", get=lists.as_xlsx),
    route("parts/own", "own_parts", post=parts.take_in_own_parts),
    route(_PART, "part", get=parts.show_part, put=parts.correct_a_part),
    route(f"{_PART}/readings", "measure", post=parts.measure_part),
    route(f"{_PART}/strikes", "strike_part", post=parts.strike_reading_of_part),
    route(f"{_PART}/reserve", "reserve", post=moves.reserve),
    route(f"{_PART}/release", "release", post=moves.release),
    route(f"{_PART}/hand-out", "hand_out", post=moves.hand_out),
    route(f"{_PART}/take-back", "take_back", post=moves.take_back),
    route(f"{_PART}/retire", "retire", post=moves.retire),
    route(f"{_PART}/restore", "restore", post=moves.restore),
    route(f"{_PART}/share", "share", post=moves.share),
    route("batches", "batches", get=pairs.list_batches),
    route(
        "batches/<word:which>/pairs",
        "find_pairs",
        get=pairs.find_pairs,
        post=pairs.confirm_pairs,
    ),
    route("pairings/<key:pairing_id>", "pairing", get=pairs.show_pairing),
    route("pairings/<key:pairing_id>/undo", "undo_pairing", post=pairs.undo_a_pairing),
    route("pairs", "pairs", get=pairs.list_pairs),
    route(_PAIR, "pair", get=pairs.show_pair),
    route(f"{_PAIR}/split", "split_pair", post=pairs.split_a_pair),
    route(f"{_PAIR}/hand-out", "hand_out_pair", post=pairs.hand_a_pair_out),
    route(f"{_PAIR}/take-back", "take_back_pair", post=pairs.take_a_pair_back),
    route("drafts", "drafts", post=drafts.bring_a_file),
    route(
        "drafts/<key:draft_id>",
        "draft",
        get=drafts.show_draft,
        delete=drafts.drop_a_draft,
    ),
    route("drafts/<key:draft_id>/take", "take_draft", post=drafts.take_a_draft),
    route("gauges", "gauges", get=gauges.list_gauges, post=gauges.add_a_gauge),
    route("gauges/<key:gauge_id>", "gauge", get=gauges.show_gauge),
    route("gauges/<key:gauge_id>/checks", "checks", get=gauges.list_checks),
    route("gauges/<key:gauge_id>/modes", "new_mode", post=gauges.add_a_mode),
    route("modes/<key:mode_id>/figures", "figures", put=gauges.change_figures_of),
    route("modes/<key:mode_id>/checks", "check", post=gauges.check_a_gauge),
    route(
        "modes/<key:mode_id>/study",
        "study",
        get=gauges.work_out_a_study,
        post=gauges.adopt_a_study,
    ),
]
