"""The addresses of rules, cars and race nights."""

from django.urls import path

from inspection.views import (
    block,
    cars,
    editions,
    exchange,
    fit,
    garage,
    gears,
    jig,
    limit_trials,
    nights,
    rooms,
    rulebooks,
    rules,
    season,
    sheets,
    tonight,
    trials,
)

app_name = "inspection"
urlpatterns = [
    path("", tonight.tonight, name="tonight"),
    path("entry/<int:entry_id>/block", tonight.put_on_block, name="put_on_block"),
    path("entry/<int:entry_id>/queue", tonight.queue_again, name="queue_again"),
    path("entry/<int:entry_id>/withdraw", tonight.withdraw, name="withdraw"),
    path("entry/<int:entry_id>/reopen", tonight.reopen, name="reopen"),
    path("night/new", nights.new_night, name="new_night"),
    path("night/<int:night_id>/open", nights.open_for_racing, name="open_night"),
    path("night/<int:night_id>/close", nights.close, name="close_night"),
    path("night/<int:night_id>/enter", nights.enter, name="enter_car"),
    path("sheet/<slug:number>", sheets.sheet, name="sheet"),
    path("sheet/<slug:number>/block", block.block, name="block"),
    path("sheet/<slug:number>/reading", block.add_reading, name="add_reading"),
    path("sheet/<slug:number>/strike/<int:reading_id>", block.strike, name="strike"),
    path("sheet/<slug:number>/seal", block.seal, name="seal"),
    path("fit", fit.will_it_fit, name="will_it_fit"),
    path("fit/reserve", fit.reserve, name="reserve_fit"),
    path("fit/<str:way>", fit.will_it_fit, name="will_it_fit"),
    path("parts/<str:tag>/cars", gears.cars_for_part, name="cars_for_part"),
    path("jig", jig.jig_sheet_page, name="jig_sheet"),
    path("jig/keep", jig.save, name="save_jig"),
    path("cars", cars.cars, name="cars"),
    path("cars/new", garage.new_car, name="new_car"),
    path("cars/<str:number>/room", rooms.room, name="room"),
    path("cars/<str:number>/geometry", garage.geometry, name="geometry"),
    path("cars/<str:number>", cars.car, name="car"),
    path("rulebooks", rulebooks.rulebooks, name="rulebooks"),
    path("rulebooks/new", rulebooks.new_rulebook, name="new_rulebook"),
    path("rulebooks/import", exchange.import_rulebook, name="import_rulebook"),
    path("rulebooks/schema", exchange.rulebook_schema, name="rulebook_schema"),
    path("rulebooks/quantity", rules.quantity, name="quantity"),
    path("rulebooks/<int:rulebook_id>/class", rulebooks.add_class, name="add_class"),
    path("rulebooks/edition/<int:edition_id>", editions.edition, name="edition"),
    path(
        "rulebooks/edition/<int:edition_id>/file",
        editions.edition_file,
        name="edition_file",
    ),
    path(
        "rulebooks/edition/<int:edition_id>/settings",
        editions.edition_settings,
        name="edition_settings",
    ),
    path(
        "rulebooks/edition/<int:edition_id>/publish", editions.publish, name="publish"
    ),
    path(
        "rulebooks/edition/<int:edition_id>/discard", editions.discard, name="discard"
    ),
    path(
        "rulebooks/edition/<int:edition_id>/draft",
        rulebooks.new_draft,
        name="new_draft",
    ),
    path(
        "rulebooks/edition/<int:edition_id>/beside/<int:other_id>",
        editions.side_by_side,
        name="side_by_side",
    ),
    path("rulebooks/edition/<int:edition_id>/trial", trials.trial, name="trial"),
    path("rulebooks/edition/<int:edition_id>/rule", rules.new_rule, name="new_rule"),
    path("rulebooks/rule/<int:rule_id>", rules.rule, name="rule"),
    path("rulebooks/rule/<int:rule_id>/move", rules.move, name="move_rule"),
    path("rulebooks/rule/<int:rule_id>/remove", rules.remove, name="remove_rule"),
    path(
        "rulebooks/rule/<int:rule_id>/trial",
        limit_trials.limit_trial,
        name="limit_trial",
    ),
    path(
        "rulebooks/rule/<int:rule_id>/limit",
        limit_trials.keep_limit,
        name="keep_limit",
    ),
    path("season", season.season, name="season"),
]
