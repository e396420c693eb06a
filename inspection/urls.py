"""The addresses of rules, cars and race nights."""

from django.urls import path

from inspection.views import block, cars, garage, nights, sheets, tonight

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
    path("cars", cars.cars, name="cars"),
    path("cars/new", garage.new_car, name="new_car"),
    path("cars/<str:number>/geometry", garage.geometry, name="geometry"),
    path("cars/<str:number>", cars.car, name="car"),
]
