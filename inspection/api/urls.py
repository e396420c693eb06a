"""The addresses of the API of rules, cars and race nights."""

from inspection.api.box import operations as box
from inspection.api.box.sign_in import BoxAuthentication
from inspection.api.cars import operations as cars
from inspection.api.fit import operations as fit
from inspection.api.nights import entries, nights
from inspection.api.protests import operations as protests
from inspection.api.rulebooks import operations as rulebooks
from inspection.api.season import operations as season
from inspection.api.sheets import readings, sheets
from inventory.api.foundation.views import route

_BOX = (BoxAuthentication,)
_CAR = "cars/<tag:tag>"
urlpatterns = [
    route("box", "box", signs_in=_BOX, get=box.ask_for_box),
    route(
        "box/readings/<id:reading_id>",
        "box_reading",
        signs_in=_BOX,
        put=box.put_box_reading,
    ),
    route("nights", "nights", get=nights.list_nights, post=nights.plan_a_night),
    route(
        "nights/<key:night_id>",
        "night",
        get=nights.show_night,
        put=nights.change_a_night,
    ),
    route("nights/<key:night_id>/open", "open_night", post=nights.open_a_night),
    route("nights/<key:night_id>/close", "close_night", post=nights.close_a_night),
    route("nights/<key:night_id>/list/close", "close_list", post=nights.close_the_list),
    route("nights/<key:night_id>/first", "call_first", post=nights.call_class_first),
    route(
        "nights/<key:night_id>/entries",
        "entries",
        get=entries.list_entries,
        post=entries.enter_a_car,
    ),
    route(
        "nights/<key:night_id>/entries/own",
        "own_entries",
        post=entries.enter_an_own_car,
    ),
    route("blocks", "blocks", get=nights.list_blocks),
    route("classes", "classes", get=nights.list_classes),
    route("entries/<key:entry_id>", "entry", get=entries.show_entry),
    route("entries/<key:entry_id>/block", "onto_block", post=entries.put_on_the_block),
    route("entries/<key:entry_id>/off", "take_off", post=entries.take_off),
    route("entries/<key:entry_id>/withdraw", "withdraw", post=entries.withdraw),
    route("entries/<key:entry_id>/undo", "undo_withdrawal", post=entries.undo),
    route("entries/<key:entry_id>/queue", "queue_again", post=entries.queue_again),
    route("entries/<key:entry_id>/not-here", "not_here", post=entries.absent),
    route("entries/<key:entry_id>/reopen", "reopen", post=entries.reopen_a_car),
    route(
        "entries/<key:entry_id>/protests",
        "protest_against",
        post=protests.protest_against,
    ),
    route("sheets", "sheets", get=sheets.list_sheets),
    route("sheets/<word:number>", "sheet", get=sheets.show_sheet),
    route(
        "sheets/<word:number>/readings/<id:reading_id>",
        "reading",
        put=readings.put_reading,
    ),
    route("sheets/<word:number>/strikes", "strikes", post=readings.strike_a_reading),
    route("sheets/<word:number>/notes", "notes", post=sheets.note_something),
    route("sheets/<word:number>/car", "confirm_on_block", post=sheets.confirm_the_car),
    route("sheets/<word:number>/seal", "seal", post=sheets.seal_a_sheet),
    route(
        "sheets/<word:number>/doubts/<key:check_id>/strikes",
        "strike_doubtful",
        post=sheets.strike_what_is_doubtful,
    ),
    route(
        "sheets/<word:number>/doubts/<key:check_id>/ruling",
        "rule_on_doubt",
        post=sheets.rule_on_a_doubt,
    ),
    route(
        "judged/<key:judged_id>/ruling",
        "rule_on_edition",
        post=sheets.rule_on_an_edition,
    ),
    route(
        "sheets/<word:number>/remedies",
        "remedies",
        get=sheets.show_remedies,
        post=sheets.hand_remedy_out,
    ),
    route("protests", "protests", get=protests.list_protests),
    route("protests/<key:protest_id>", "protest", get=protests.show_protest),
    route(
        "protests/<key:protest_id>/measure",
        "measure_protest",
        post=protests.measure_for_protest,
    ),
    route(
        "protests/<key:protest_id>/hearer", "name_hearer", post=protests.name_a_hearer
    ),
    route(
        "protests/<key:protest_id>/ruling",
        "rule_on_protest",
        post=protests.rule_on_a_protest,
    ),
    route("protests/<key:protest_id>/appeal", "appeal", post=protests.appeal_against),
    route("cars", "cars", get=cars.list_cars, post=cars.register_a_car),
    route(_CAR, "car", get=cars.show_car, put=cars.change_a_car),
    route(f"{_CAR}/confirm", "confirm_car", post=cars.confirm_a_car),
    route(f"{_CAR}/lend", "lend_car", post=cars.lend),
    route(f"{_CAR}/back", "car_back", post=cars.back),
    route(f"{_CAR}/sell", "sell_car", post=cars.sell),
    route(f"{_CAR}/retire", "retire_car", post=cars.retire),
    route(f"{_CAR}/race", "race_again", post=cars.race),
    route(f"{_CAR}/sizes", "sizes", put=cars.store_sizes_of),
    route(
        f"{_CAR}/on/<word:place>",
        "place",
        put=cars.put_part_on,
        delete=cars.take_part_off,
    ),
    route(f"{_CAR}/pair", "pair_on", put=cars.put_pair_onto),
    route(f"{_CAR}/swap", "swap_sides", post=cars.swap_tyres),
    route(f"{_CAR}/jigs", "jigs", post=cars.keep_jig_sheet),
    route(f"{_CAR}/fit", "fit_of_car", get=fit.fit_of_car),
    route("parts/<tag:tag>/cars", "cars_for_part", get=fit.cars_for_part),
    route("fit/numbers", "fit_of_numbers", get=fit.fit_of_numbers),
    route("fit/unmarked-gear", "unmarked_gear", get=fit.unmarked_gear),
    route("jig", "jig", get=fit.work_out_jig),
    route("rulebooks", "rulebooks", get=rulebooks.list_rulebooks),
    route("editions", "editions", post=rulebooks.import_rulebook),
    route(
        "editions/<key:edition_id>",
        "edition",
        get=rulebooks.show_edition,
        delete=rulebooks.discard_an_edition,
    ),
    route(
        "editions/<key:edition_id>/publish",
        "publish",
        post=rulebooks.publish_an_edition,
    ),
    route("editions/<key:edition_id>/trial", "trial", get=rulebooks.try_an_edition),
    route("season", "season", get=season.show_season),
]
