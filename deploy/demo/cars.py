"""The twelve cars of the demo club: what they are and the sizes they truly have."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Final

from deploy.demo.rulebooks import PROTOTYPES, SALOONS
from inspection.compute.quantities import FrontCarrier, Layout

#: A car's stored geometry, by the gauge it was taken with in ``garage``.
_SALOON: Final[Mapping[str, str]] = {
    "axle_height_rear_left": "8.22",
    "axle_height_rear_right": "8.23",
    "axle_station_span_rear": "24.6",
    "axle_height_front_left": "7.41",
    "axle_height_front_right": "7.40",
    "axle_station_span_front": "30.2",
    "wheelbase_left": "98.92",
    "wheelbase_right": "98.98",
    "chassis_width": "47.6",
    "datum_half_width_rear": "17.4",
    "datum_half_width_front": "18.2",
    "chassis_tail": "14.2",
    "guide_lead": "108.5",
    "guide_depth": "6.72",
    "gear_position_y": "5.2",
    "motor_lift_rear": "0.66",
    "motor_lift_front": "0.61",
    "can_rear_x": "10.4",
    "can_front_x": "36.2",
    "axle_to_reference_left": "62.38",
    "axle_to_reference_right": "62.34",
    "axle_reference_span": "31.0",
    "axle_diameter": "2.362",
}
_PROTOTYPE: Final[Mapping[str, str]] = {
    "axle_height_rear_left": "9.16",
    "axle_height_rear_right": "9.15",
    "axle_station_span_rear": "33.4",
    "tyre_diameter_front_left": "16.94",
    "tyre_diameter_front_right": "16.92",
    "tyre_width_front": "4.6",
    "width_front": "76.4",
    "axle_height_front_left": "7.62",
    "axle_height_front_right": "7.63",
    "axle_station_span_front": "36.4",
    "wheelbase_left": "107.62",
    "wheelbase_right": "107.56",
    "chassis_width": "68.2",
    "datum_half_width_rear": "24.2",
    "datum_half_width_front": "26.4",
    "chassis_tail": "16.4",
    "guide_lead": "121.5",
    "guide_depth": "6.84",
    "guide_flange_height": "-1.28",
    "gear_position_y": "-22.4",
    "motor_lift_rear": "0.34",
    "motor_lift_front": "0.31",
    "can_rear_x": "6.2",
    "can_front_x": "27.4",
    "can_half_width": "14.2",
    "can_middle_y": "-3.4",
    "axle_to_reference_left": "70.12",
    "axle_to_reference_right": "70.16",
    "axle_reference_span": "44.2",
    "axle_diameter": "2.361",
}
#: Room for parts, which no rule speaks of, as the builders took it.
_SALOON_ROOM: Final[Mapping[str, str]] = {
    "axle_to_bar_mm": "9.60",
    "shaft_to_bearing_mm": "9.40",
    "spacers_mm": "0.30",
    "shaft_end_mm": "5.60",
    "arch_width_mm": "12.0",
    "bay_height_mm": "16.2",
    "bay_width_mm": "21.0",
    "bay_length_mm": "27.0",
    "lift_low_mm": "0",
    "lift_high_mm": "1.50",
}
_PROTOTYPE_ROOM: Final[Mapping[str, str]] = {
    "slot_low_mm": "10.60",
    "slot_high_mm": "11.90",
    "axle_to_bar_mm": "10.40",
    "axle_room_mm": "9.40",
    "arch_width_mm": "none",
    "bay_height_mm": "15.4",
    "bay_width_mm": "21.2",
    "bay_length_mm": "29.5",
}
#: Its owner never took the room that it has.
_ROOM_NOT_TAKEN: Final = "58"


@dataclass(frozen=True, kw_only=True)
class DemoCar:
    """
    A car as it was when it was first measured.

    ``rear`` and ``front`` are the tyres' diameters, left and right; ``can`` is
    height, width and length; ``truth`` is what else is read of it on the block.
    """

    number: str
    name: str
    owner: str
    layout: Layout
    rear: tuple[str, str]
    front: tuple[str, str] | None = None
    gear: tuple[int, str]
    pinion: tuple[int, str]
    can: tuple[str, str, str]
    speed: str
    resistance: str
    truth: Mapping[str, str]
    geometry: Mapping[str, str] = field(default_factory=dict)
    wear: Decimal = Decimal("0.03")

    @property
    def race_class(self) -> str:
        return SALOONS if self.layout is Layout.IN_LINE else PROTOTYPES

    @property
    def front_carrier(self) -> FrontCarrier:
        if self.layout is Layout.IN_LINE:
            return FrontCarrier.FRONT_WHEELS
        return FrontCarrier.GUIDE

    @property
    def stored(self) -> Mapping[str, str]:
        """The geometry it is registered with."""
        base = _SALOON if self.layout is Layout.IN_LINE else _PROTOTYPE
        return {**base, **self.geometry}

    @property
    def room(self) -> Mapping[str, str]:
        """The room for parts it is registered with."""
        if self.number == _ROOM_NOT_TAKEN:
            return {}
        return _SALOON_ROOM if self.layout is Layout.IN_LINE else _PROTOTYPE_ROOM


def _saloon_truth(weight: str, over_rear: str, over_front: str) -> dict[str, str]:
    return {
        "weight_car": weight,
        "width_rear": over_rear,
        "width_front": over_front,
        "tyre_width_rear": "10.8",
        "tyre_width_front": "9.1",
    }


def _prototype_truth(weight: str, over_rear: str) -> dict[str, str]:
    return {
        "weight_car": weight,
        "width_rear": over_rear,
        "tyre_width_rear": "15.0",
    }


CARS: Final = (
    DemoCar(
        number="3",
        name="Copper Kettle",
        owner="hector",
        layout=Layout.IN_LINE,
        rear=("18.96", "18.94"),
        front=("17.14", "17.12"),
        gear=(30, "16.92"),
        pinion=(10, "6.35"),
        can=("15.1", "20.1", "25.2"),
        speed="19120",
        resistance="2.44",
        truth=_saloon_truth("86.4", "60.24", "58.62"),
    ),
    DemoCar(
        number="7",
        name="Grey Heron",
        owner="fergus",
        layout=Layout.IN_LINE,
        rear=("18.93", "18.95"),
        front=("17.16", "17.15"),
        gear=(28, "15.88"),
        pinion=(10, "6.34"),
        can=("15.1", "20.2", "25.1"),
        speed="18870",
        resistance="2.49",
        truth=_saloon_truth("84.2", "60.42", "58.88"),
        geometry={"wheelbase_left": "99.34", "wheelbase_right": "99.38"},
    ),
    DemoCar(
        number="11",
        name="Blue Lantern",
        owner="ottilie",
        layout=Layout.IN_LINE,
        rear=("19.03", "19.01"),
        front=("17.08", "17.09"),
        gear=(30, "16.91"),
        pinion=(11, "6.75"),
        can=("15.0", "20.1", "25.2"),
        speed="19460",
        resistance="2.38",
        truth=_saloon_truth("90.6", "60.88", "59.12"),
        geometry={"axle_height_rear_left": "8.24", "guide_lead": "109.0"},
    ),
    DemoCar(
        number="14",
        name="Rust and Feathers",
        owner="dorcas",
        layout=Layout.IN_LINE,
        rear=("18.73", "18.72"),
        front=("17.11", "17.10"),
        gear=(32, "17.50"),
        pinion=(10, "6.36"),
        can=("15.1", "20.1", "25.1"),
        speed="19280",
        resistance="2.42",
        truth=_saloon_truth("88.0", "60.16", "58.44"),
        geometry={"wheelbase_left": "98.14", "wheelbase_right": "98.22"},
        wear=Decimal("0.06"),
    ),
    DemoCar(
        number="18",
        name="Green Finch",
        owner="basil",
        layout=Layout.IN_LINE,
        rear=("18.98", "18.97"),
        front=("17.18", "17.16"),
        gear=(30, "16.93"),
        pinion=(10, "6.35"),
        can=("15.0", "20.2", "25.2"),
        speed="19010",
        resistance="2.46",
        truth=_saloon_truth("82.8", "61.02", "59.04"),
        geometry={"gear_position_y": "5.4", "chassis_tail": "15.0"},
    ),
    DemoCar(
        number="23",
        name="Tin Whistle",
        owner="ida",
        layout=Layout.IN_LINE,
        rear=("19.00", "19.02"),
        front=("17.22", "17.21"),
        gear=(28, "15.87"),
        pinion=(10, "6.35"),
        can=("15.1", "20.1", "25.2"),
        speed="19210",
        resistance="2.43",
        truth=_saloon_truth("93.4", "60.66", "58.94"),
        geometry={"wheelbase_left": "97.86", "wheelbase_right": "97.92"},
    ),
    DemoCar(
        number="31",
        name="Lamplighter",
        owner="rufus",
        layout=Layout.ANGLEWINDER,
        rear=("21.04", "21.02"),
        gear=(44, "18.26"),
        pinion=(12, "5.55"),
        can=("14.3", "20.4", "28.3"),
        speed="24310",
        resistance="1.61",
        truth=_prototype_truth("127.2", "81.14"),
    ),
    DemoCar(
        number="35",
        name="Night Ferry",
        owner="sylvie",
        layout=Layout.SIDEWINDER,
        rear=("21.07", "21.09"),
        gear=(44, "18.25"),
        pinion=(12, "5.55"),
        can=("14.3", "20.4", "28.2"),
        speed="24080",
        resistance="1.64",
        truth=_prototype_truth("114.6", "80.92"),
        geometry={"gear_position_y": "-21.8", "can_middle_y": "-2.6"},
    ),
    DemoCar(
        number="42",
        name="Long Shadow",
        owner="tamsin",
        layout=Layout.ANGLEWINDER,
        rear=("20.47", "20.46"),
        gear=(42, "17.46"),
        pinion=(12, "5.54"),
        can=("14.4", "20.5", "28.3"),
        speed="24450",
        resistance="1.58",
        truth=_prototype_truth("131.8", "81.36"),
        geometry={"guide_lead": "122.0"},
        wear=Decimal("0.4"),
    ),
    DemoCar(
        number="46",
        name="Silver Eel",
        owner="jonas",
        layout=Layout.SIDEWINDER,
        rear=("21.12", "21.10"),
        gear=(46, "19.04"),
        pinion=(13, "5.87"),
        can=("14.3", "20.4", "28.3"),
        speed="23920",
        resistance="1.66",
        truth=_prototype_truth("124.4", "81.08"),
        geometry={"gear_position_y": "-22.0", "can_middle_y": "-2.8"},
    ),
    DemoCar(
        number="51",
        name="Barn Owl",
        owner="prudence",
        layout=Layout.ANGLEWINDER,
        rear=("20.98", "21.00"),
        gear=(44, "18.27"),
        pinion=(12, "5.56"),
        can=("14.4", "20.4", "28.2"),
        speed="24260",
        resistance="1.62",
        truth=_prototype_truth("129.0", "81.22"),
        geometry={"wheelbase_left": "108.12", "wheelbase_right": "108.10"},
    ),
    DemoCar(
        number="58",
        name="Last Tram",
        owner="clement",
        layout=Layout.SIDEWINDER,
        rear=("21.06", "21.05"),
        gear=(44, "18.26"),
        pinion=(12, "5.55"),
        can=("14.3", "20.5", "28.3"),
        speed="24140",
        resistance="1.63",
        truth=_prototype_truth("121.6", "80.78"),
        geometry={"gear_position_y": "-21.9", "can_middle_y": "-2.7"},
    ),
)
