"""The site file: everything installed on one site, and how its parts depend on each other."""

from __future__ import annotations

from typing import Annotated, ClassVar, Literal, TypeAlias

from pydantic import Field

from commission.plant.service_plan import ServicePlan
from commission.plant.values import (
    UNKNOWN,
    Altitude,
    AmpereHours,
    Amps,
    Azimuth,
    Celsius,
    Count,
    CubicMetres,
    CubicMetresPerHour,
    Day,
    Hertz,
    Hours,
    Ident,
    Kept,
    Line,
    Litres,
    Metres,
    Model,
    NewtonMetres,
    Ohms,
    Part,
    PerKelvin,
    Ratio,
    Seconds,
    Several,
    Share,
    SquareCentimetres,
    SquareMillimetres,
    Text,
    Tilt,
    Unknowable,
    VoltAmperes,
    Volts,
    WattHours,
    Watts,
)

YesNo: TypeAlias = bool | Unknowable
Other: TypeAlias = Literal["vented lead", "sealed lead", "lithium", "nickel"]
Datasheet: TypeAlias = dict[str, Kept]
"""Fields of the profile that the installed model's own datasheet replaces, checked like the profile's."""


class Place(Model):
    """The site and what its climate asks for."""

    id: Ident
    name: Line
    place: Line
    rules: Ident = Field(description="id of the rule set that holds here")
    units: Literal["metric", "us"] = Field(description="unit system shown to the technician")
    altitude: Altitude = Field(default=UNKNOWN, description="m above sea level")
    coldest_ambient: Celsius = Field(default=UNKNOWN, description="°C, record low of the air")
    hottest_ambient: Celsius = Field(default=UNKNOWN, description="°C, design high of the air")
    coldest_battery: Celsius = Field(default=UNKNOWN, description="°C, coldest that the bank gets")
    hottest_battery: Celsius = Field(default=UNKNOWN, description="°C, hottest that the bank gets")
    coldest_month_battery: Celsius = Field(
        default=UNKNOWN,
        description="°C, mean of the bank in the coldest month; coldest_battery where missing",
    )
    hottest_month_battery: Celsius = Field(
        default=UNKNOWN,
        description="°C, mean of the bank in the hottest month; hottest_battery where missing",
    )
    mean_battery: Celsius = Field(
        default=UNKNOWN,
        description="°C, mean of the bank over the year; middle of the two months where missing",
    )
    room_temperature: Celsius = Field(default=UNKNOWN, description="°C, hottest air around the inverters")
    time_zone: Line = Field(default="", description="offset or zone in which the devices' clocks run")
    longest_time_without_charge: Seconds = Field(
        default=UNKNOWN, description="s that the bank may have to stand without any charge"
    )
    notes: Text = ""


class BankString(Model):
    """One string of blocks in series."""

    id: Ident
    installed: Day = Field(default="", description="date, month or year of its blocks")


class BatteryString(BankString):
    """One string of the bank; what is told here differs from the rest of the bank."""

    profile: Ident | None = Field(default=None, description="battery profile, where it is not the bank's")
    blocks_in_series: int | None = Field(
        default=None, ge=1, le=1000, description="blocks in series, where it is not the bank's count"
    )
    capacity: AmpereHours | None = Field(default=None, description="Ah, where it is not the bank's")


class Management(Model):
    """The management system of a lithium bank; limits per pack."""

    data_link: YesNo = Field(default=UNKNOWN, description="tells its limits over a data link")
    protocol: Line = ""
    charge_current: Amps = Field(default=UNKNOWN, description="A, greatest charge current of one pack")
    discharge_current: Amps = Field(default=UNKNOWN, description="A, greatest discharge current of one pack")
    cut_off_high: Volts = Field(default=UNKNOWN, description="V per cell at which it opens under charge")
    cut_off_low: Volts = Field(default=UNKNOWN, description="V per cell at which it opens under load")
    cut_off_state_of_charge: Share = Field(default=UNKNOWN, description="share at which it opens under load")
    margin: Volts = Field(default=UNKNOWN, description="V per cell that the maker wants below the cut-off")
    charge_low_temperature: Celsius = Field(default=UNKNOWN, description="°C, blocks charging below")
    charge_high_temperature: Celsius = Field(default=UNKNOWN, description="°C, blocks charging above")
    charge_permit_contact: YesNo = Field(
        default=UNKNOWN, description="a wired contact stops sources not on the link"
    )
    tells_zero_before_opening: YesNo = Field(
        default=UNKNOWN, description="its told charge limit reaches zero before it opens"
    )
    cell_voltage_accuracy: Volts = Field(default=UNKNOWN, description="V of the cell voltages that it shows")
    wakes_by: Line = Field(default="", description="how a sleeping pack is woken")


class Bank(Model):
    """The battery bank."""

    id: Ident = "bank"
    profile: Ident = Field(description="id of the battery profile")
    cells_per_block: int = Field(ge=1, le=1000, description="cells in series in one block or pack")
    cells_per_vent: int | None = Field(
        default=None, ge=1, le=1000, description="cells whose gas leaves by one vent; none: all of a block"
    )
    blocks_in_series: int = Field(ge=1, le=1000, description="blocks in series in one string")
    strings: tuple[BatteryString, ...] = Field(strict=False, min_length=1, description="strings in parallel")
    capacity: AmpereHours = Field(description="Ah of one string")
    capacity_rate: Hours = Field(default=UNKNOWN, description="hours of the rate of that capacity")
    datasheet: Datasheet = Field(
        default_factory=dict, description="values of the installed model's own sheet"
    )
    voltages_at: Celsius = Field(
        default=UNKNOWN, description="°C to which datasheet voltages refer; the profile's where missing"
    )
    resistance: Ohms = Field(default=UNKNOWN, description="Ω of one string as its maker states it")
    short_circuit_current: Amps = Field(default=UNKNOWN, description="A of one string as its maker states it")
    greatest_discharge: Amps = Field(default=UNKNOWN, description="A of one string as its maker states it")
    management: Management | None = None
    temperature_sensor_place: Line = ""
    terminal_torque: NewtonMetres = Field(default=UNKNOWN, description="N·m of the posts")
    standing_draw: Watts = Field(
        default=UNKNOWN, description="W that stays on the bank when the loads are disconnected"
    )
    cold_capacity: Share = Field(
        default=UNKNOWN, description="share of its capacity left at the coldest, as its maker states it"
    )
    room_volume: CubicMetres = Field(default=UNKNOWN, description="m³ of the battery room")
    vent_area: SquareCentimetres = Field(default=UNKNOWN, description="cm² of each opening, inlet and outlet")
    vent_flow: CubicMetresPerHour | None = Field(
        default=None, description="m³/h of a fan that runs while charging, where the air is driven"
    )
    spark_distance: Metres = Field(
        default=UNKNOWN, description="m from the cells to the nearest thing that sparks or glows"
    )
    beside: Annotated[tuple[Other, ...], Field(strict=False)] | Unknowable = Field(
        default=(), description="other batteries in the same room or cabinet"
    )

    section: ClassVar[str] = "bank"

    @property
    def cells(self) -> int:
        """Cells in series across the bank."""
        return self.cells_per_block * self.blocks_in_series

    @property
    def where(self) -> str:
        """Return the key of the bank in the site file."""
        return "bank"


class Silence(Model):
    """What a device does when its controller falls silent."""

    after: Seconds = Field(default=UNKNOWN, description="s of silence before it acts; 0 if at once")
    does: Literal["stops", "carries on alone", "unknown"] = Field(
        default=UNKNOWN, description="'stops' charging, or 'carries on alone' at its own settings"
    )


class Device(Part):
    """A device with a profile."""

    profile: Ident = Field(description="id of the equipment profile")
    datasheet: Datasheet = Field(
        default_factory=dict, description="values of the installed model's own sheet"
    )
    firmware: Line = Field(
        default="", description="version on the day the file was written; the visit records it anew"
    )
    panel: Ident | None = Field(default=None, description="panel that it sits on")


class DirectCurrentSource(Device):
    """What can charge the bank over the DC bus."""

    silence: Silence = Silence()
    on_battery_link: bool | None = Field(
        default=None, description="hears the managed battery's limits (directly or from its controller)"
    )
    sensor_fitted: YesNo = Field(default=UNKNOWN, description="its battery temperature sensor is on the bank")
    weight: float | None = Field(
        default=None, gt=0, description="share of the bank's limit, against other sources"
    )
    least_useful_current: Amps | None = Field(default=None, description="A, dc, below which it is of no use")
    offset: Volts | None = Field(
        default=None, description="V that it is set under the common values on purpose"
    )
    offset_reason: Line = ""
    run: Ident | None = Field(default=None, description="conductor run between it and the bank")
    protection: Ident | None = Field(default=None, description="its DC breaker or fuse")


class InverterCharger(DirectCurrentSource):
    """An inverter/charger and its place in a group."""

    section: ClassVar[str] = "inverter_chargers"
    group: Ident | None = Field(default=None, description="id shared by the units that make one supply")
    group_role: Literal["alone", "reference", "follower"] | Unknowable = Field(
        default="alone", description="the reference unit sets voltage, frequency and phase of its group"
    )
    group_leg: Literal["1", "2", "3", "both"] | Unknowable = Field(
        default="1", description="leg or phase that it feeds"
    )
    inputs: dict[Literal["generator", "utility"], Ident] = Field(
        default_factory=dict, description="which AC source is on which input"
    )
    neutral_bond: Literal["automatic", "fixed", "none"] | Unknowable = Field(
        default=UNKNOWN, description="bond between neutral and earth inside the device"
    )
    ac_breaker: Ident | None = Field(default=None, description="breaker of its AC output")
    input_breakers: dict[Literal["generator", "utility"], Ident] = Field(
        default_factory=dict, description="breaker of each AC input"
    )
    starts_generator: bool = Field(default=False, description="its relay or rules start the generator")


class PvString(BankString):
    """One string of PV modules; what is told here differs from the rest of the array."""

    series: Several | None = Field(default=None, description="modules in series, where it is not the array's")
    open_circuit_voltage: Volts | None = Field(default=None, description="V of one of its modules")
    maximum_power_voltage: Volts | None = Field(default=None, description="V of one of its modules")
    short_circuit_current: Amps | None = Field(default=None, description="A of one of its modules")
    azimuth: Azimuth | None = Field(default=None, description="° clockwise from north")
    tilt: Tilt | None = Field(default=None, description="° from level")


class Array(Model):
    """The PV array on one controller."""

    module_power: Watts = Field(default=UNKNOWN, description="W at standard test conditions")
    open_circuit_voltage: Volts = Field(default=UNKNOWN, description="V of one module")
    short_circuit_current: Amps = Field(default=UNKNOWN, description="A of one module")
    maximum_power_voltage: Volts = Field(default=UNKNOWN, description="V of one module")
    maximum_power_current: Amps = Field(default=UNKNOWN, description="A of one module")
    voltage_coefficient: PerKelvin = Field(
        default=UNKNOWN, description="%/K of the open-circuit voltage, negative"
    )
    current_coefficient: PerKelvin = Field(default=UNKNOWN, description="%/K of the short-circuit current")
    power_coefficient: PerKelvin = Field(default=UNKNOWN, description="%/K of the maximum power, negative")
    thermal_slope: Volts = Field(
        default=UNKNOWN, description="V, a_ref of one module; 0.040 × Voc where missing"
    )
    series: Several | Unknowable = Field(description="modules in series in one string")
    strings: tuple[PvString, ...] = Field(strict=False, min_length=1, description="strings in parallel")
    series_fuse: Amps = Field(default=UNKNOWN, description="A, the module's greatest series fuse")
    string_fuse: Amps | None = Field(default=None, description="A, fuse in each string, if any")
    tilt: Tilt = Field(default=UNKNOWN, description="° from level")
    azimuth: Azimuth = Field(default=UNKNOWN, description="° clockwise from north")
    nominal_cell_temperature: Celsius = Field(default=UNKNOWN, description="°C, NOCT of the module")
    mounting: Literal["open rack", "close to roof", "insulated back"] | Unknowable = Field(
        default=UNKNOWN, description="how the air reaches the modules' backs"
    )
    module_voltage_max: Volts = Field(default=UNKNOWN, description="V, greatest system voltage of the module")
    rear_gain: Share = Field(
        default=0.0, description="share of short-circuit current that a two-sided module adds, for ratings"
    )


class ChargeController(DirectCurrentSource):
    """A charge controller and its array."""

    section: ClassVar[str] = "charge_controllers"
    array: Array | None = Field(default=None, description="PV array on its input")


class AcPvInverter(Device):
    """An AC-coupled PV inverter."""

    section: ClassVar[str] = "ac_pv_inverters"
    leg: Literal["1", "2", "3", "both", "all"] | Unknowable = Field(description="leg or phase that it feeds")
    array_power: Watts = Field(default=UNKNOWN, description="W at standard test conditions")
    panel_breaker: Ident | None = None
    response: dict[str, Kept] = Field(
        default_factory=dict, description="response settings that differ from the profile"
    )


class Generator(Device):
    """A generator set."""

    section: ClassVar[str] = "generators"
    neutral_bond: Literal["bonded frame", "none", "switched"] | Unknowable = Field(
        default=UNKNOWN, description="bond between neutral and frame of the set"
    )
    started_by: Ident | None = Field(default=None, description="device that starts it; none: by hand")
    load_while_charging: VoltAmperes = Field(
        default=UNKNOWN, description="VA, greatest load that runs meanwhile"
    )
    least_load_while_charging: VoltAmperes = Field(
        default=0.0, description="VA, least load that runs meanwhile"
    )
    ambient: Celsius = Field(
        default=UNKNOWN, description="°C, hottest air at the set; hottest_ambient where missing"
    )
    neutral_switched: YesNo = Field(default=UNKNOWN, description="the changeover switches the neutral too")
    by_plug: bool = Field(default=False, description="connected by plug and socket")
    quiet_from: Line = Field(default="", description="HH:MM, begin of the no-start hours")
    quiet_until: Line = Field(default="", description="HH:MM, end of the no-start hours")
    fuel_store: Litres = Field(default=UNKNOWN, description="L")


class Utility(Part):
    """A public supply."""

    section: ClassVar[str] = "utility"
    id: Ident = "utility"
    ac_voltage: Volts = Field(default=UNKNOWN, description="V, leg or phase to neutral")
    ac_frequency: Hertz = Field(default=UNKNOWN, description="Hz")
    connection: Literal["single", "split", "three"] | Unknowable = UNKNOWN
    supply_breaker: Amps = Field(default=UNKNOWN, description="A per leg")
    load_while_charging: VoltAmperes = Field(
        default=UNKNOWN, description="VA, greatest load that runs meanwhile"
    )
    fault_current_least: Amps = Field(
        default=UNKNOWN, description="A, least into a fault at its terminals; strong where missing"
    )
    fault_current_greatest: Amps = Field(
        default=UNKNOWN,
        description="A, greatest into a short circuit at its terminals, as the network operator tells it",
    )
    transformer_power: VoltAmperes = Field(
        default=UNKNOWN, description="VA of the transformer behind it, where no greatest current is told"
    )
    transformer_impedance: Share = Field(
        default=UNKNOWN, description="short-circuit impedance of that transformer: 0.04 for 4 %"
    )
    neutral_switched: YesNo = Field(
        default=UNKNOWN, description="its neutral is parted from the plant's when it does not feed"
    )


class Monitor(Device):
    """The battery monitor."""

    section: ClassVar[str] = "monitor"
    shunt_current: Amps = Field(default=UNKNOWN, description="A of the shunt's rating")
    shunt_voltage: Volts = Field(default=UNKNOWN, description="V of the shunt at its rating")
    shunt_place: Line = Field(default="", description="where the shunt sits")
    on_battery_side: tuple[Ident, ...] = Field(
        default=(),
        strict=False,
        description="parts connected between shunt and bank, whose current it misses",
    )
    temperature_sensor: YesNo = UNKNOWN


class Run(Part):
    """A DC or AC conductor run; length is one way."""

    section: ClassVar[str] = "runs"
    kind: Literal["dc", "ac"]
    from_: Line = Field(alias="from", description="id of the part at one end")
    to: Line = Field(description="id of the part at the other end")
    area: SquareMillimetres = Field(default=UNKNOWN, description="mm² of one conductor")
    conductors: int = Field(default=1, ge=1, le=100, description="parallel conductors per pole")
    length: Metres = Field(default=UNKNOWN, description="m, one way")
    material: Literal["copper", "aluminium"] | Unknowable = "copper"
    insulation_temperature: Celsius = Field(default=UNKNOWN, description="°C rating of the insulation")
    terminal_temperature: Celsius = Field(default=UNKNOWN, description="°C rating of the terminals")
    ambient: Celsius = Field(default=UNKNOWN, description="°C around the run")
    grouped: int = Field(default=1, ge=1, le=100, description="loaded circuits in the same duct")
    joints: Count | Unknowable = Field(default=2, description="bolted joints along one conductor")
    joint_resistance: Ohms = Field(default=UNKNOWN, description="Ω of one joint; 50 µΩ where missing")
    protection: Ident | None = Field(default=None, description="device that protects the run")
    torque: NewtonMetres = Field(default=UNKNOWN, description="N·m of its terminals")
    voltage: Volts = Field(default=UNKNOWN, description="V, rated voltage of the insulation")
    earth_area: SquareMillimetres | None = Field(
        default=None, description="mm² of the protective conductor laid with it, if one is"
    )


class Protection(Part):
    """A breaker or fuse."""

    section: ClassVar[str] = "protection"
    kind: Literal["breaker", "fuse", "residual", "surge", "switch"]
    current: Literal["dc", "ac"]
    rating: Amps = Field(default=UNKNOWN, description="A")
    voltage: Volts = Field(default=UNKNOWN, description="V, rated")
    interrupting: Amps = Field(default=UNKNOWN, description="A that it can break")
    poles: int = Field(default=1, ge=1, le=8)
    polarised: YesNo = Field(default=UNKNOWN, description="DC breaker that breaks one way only")
    residual_current: Amps | None = Field(default=None, description="A, rated residual current")
    full_rated: bool = Field(default=False, description="marked for continuous use at its whole rating")
    protects: Literal["bank", "string", "device", "array", "branch"] = "device"
    of: Ident | None = Field(default=None, description="the part that it protects")
    distance: Metres = Field(default=UNKNOWN, description="m of cable between the bank's post and it")
    curve: Literal["B", "C", "D"] | Unknowable = Field(
        default=UNKNOWN, description="letter of a breaker's curve by IEC 60898-1"
    )
    instant_trip: Amps = Field(
        default=UNKNOWN, description="A at which a breaker trips at once, or a fuse opens in the time allowed"
    )
    residual_type: Literal["AC", "A", "F", "B"] | Unknowable = Field(
        default=UNKNOWN, description="type of a residual-current device by IEC 60755"
    )
    ambient: Celsius = Field(default=UNKNOWN, description="°C around it; room_temperature where missing")


class Position(Model):
    """A breaker position of a panel."""

    position: Line
    holds: Ident | None = Field(default=None, description="protection device on it; none: spare")
    circuit: Line = Field(default="", description="what it feeds, as the directory says")
    far_end: bool = Field(default=False, description="at the end of the bus bar away from the main device")


class Panel(Part):
    """A DC or AC panel."""

    section: ClassVar[str] = "panels"
    kind: Literal["dc", "ac"]
    bus_bar: Amps = Field(default=UNKNOWN, description="A of its bus bars")
    main: Ident | None = Field(default=None, description="protection device through which it is fed")
    neutral_bar_bonded: bool = Field(default=False, description="neutral and earth are joined in it")
    positions: tuple[Position, ...] = Field(default=(), strict=False)


class Coordination(Model):
    """How the sources are coordinated."""

    kind: Literal["none", "own outputs", "bank current"] = Field(
        description="'own outputs': the controller sums its devices; 'bank current': it measures the bank"
    )
    controller: Ident | None = Field(default=None, description="the part that coordinates")
    members: tuple[Ident, ...] = Field(default=(), strict=False, description="devices in the group")
    hears_battery: bool = Field(default=False, description="it hears the managed battery's limits")
    firmware: Line = ""
    silence: Silence = Silence()


class Interlock(Part):
    """Sources of which at most one can run at a time."""

    section: ClassVar[str] = "interlocks"
    one_of: tuple[Ident, ...] = Field(
        strict=False, min_length=2, description="ids, at most one of which can run"
    )
    by: Line = Field(description="what makes it so: contactor, relay, changeover switch")


class BondPoint(Model):
    """Where neutral and earth are joined in one mode of operation."""

    mode: Line = Field(description="island, generator id, utility id or bypass")
    earthing: Literal["TN", "TT", "IT"] | Unknowable
    bonds: tuple[Line, ...] = Field(default=(), strict=False, description="where the bonds of this mode are")


class Earthing(Model):
    """Earthing of the DC and AC systems."""

    dc: Literal["negative", "positive", "floating", "mid-point"] | Unknowable = Field(
        default=UNKNOWN, description="which pole is earthed"
    )
    electrode_resistance: Ohms = Field(default=UNKNOWN, description="Ω, last measured")
    electrode_conductor: SquareMillimetres = Field(
        default=UNKNOWN, description="mm² of the conductor to the earth electrode"
    )
    dc_conductor: SquareMillimetres = Field(
        default=UNKNOWN, description="mm² of the conductor that joins the earthed DC pole to earth"
    )
    modes: tuple[BondPoint, ...] = Field(default=(), strict=False)


class Safety(Model):
    """What guards people and the building beside fuses and breakers."""

    array_on_building: YesNo = Field(
        default=UNKNOWN, description="PV modules or PV wiring on or in a building"
    )
    earth_fault_detection: YesNo = Field(
        default=UNKNOWN, description="an earth fault of the PV array is interrupted or told"
    )
    arc_fault_detection: YesNo = Field(
        default=UNKNOWN, description="a series arc of the PV array is interrupted"
    )
    rapid_shutdown: YesNo = Field(
        default=UNKNOWN, description="PV conductors on the building are brought to a safe voltage on command"
    )
    insulation_monitor: YesNo = Field(default=UNKNOWN, description="watches the insulation of an IT system")
    emergency_stop: Annotated[tuple[Ident, ...], Field(strict=False)] | Unknowable = Field(
        default=UNKNOWN, description="ids of the sources that one emergency stop reaches"
    )


class DataCable(Part):
    """A communication cable."""

    section: ClassVar[str] = "data_cables"
    kind: Literal["CAN", "RS-485", "RS-232", "Ethernet", "other"]
    from_: Line = Field(alias="from", description="id of the part at one end")
    to: Line = Field(description="id of the part at the other end")
    length: Metres = Field(default=UNKNOWN, description="m of the whole bus")
    length_max: Metres = Field(
        default=UNKNOWN, description="m, the maker's limit; the standard's where missing"
    )
    bit_rate: Ratio = Field(default=UNKNOWN, description="bit/s")
    terminated: YesNo = Field(default=UNKNOWN, description="both ends of the bus carry their resistor")


class Authority(Model):
    """Which instrument is believed."""

    state_of_charge: Ident | Literal["battery", "none"] = Field(
        default="none", description="id of the monitor, 'battery' for a managed one, or none"
    )


class Load(Part):
    """A load or a group of loads."""

    section: ClassVar[str] = "loads"
    current: Literal["dc", "ac"]
    power: Watts = Field(default=UNKNOWN, description="W when on")
    daily_energy: WattHours = Field(default=UNKNOWN, description="Wh in a day of the design month")
    power_factor: Share = Field(default=1.0)
    leg: Literal["1", "2", "3", "both", "all"] | Unknowable = "1"
    continuous: bool = Field(default=False, description="runs day and night")
    voltage_max: Volts = Field(default=UNKNOWN, description="V, greatest that a DC load stands")
    frequency_max: Hertz = Field(default=UNKNOWN, description="Hz, greatest that an AC load stands")
    starting_power: VoltAmperes = Field(default=UNKNOWN, description="VA at start")
    sockets: bool = Field(
        default=False,
        description="socket outlets or other points for which the rule set asks residual-current protection",
    )


class Expected(Model):
    """What is expected of the plant's loads as a whole."""

    load: Watts = Field(default=UNKNOWN, description="W, greatest that runs for long")
    least_load: Watts = Field(default=UNKNOWN, description="W that always runs")
    autonomy: Seconds = Field(
        default=UNKNOWN, description="s that the owner was promised without sun, generator or public supply"
    )
    sun_hours: Hours = Field(
        default=UNKNOWN, description="h a day at 1000 W/m² in the arrays' plane, in the design month"
    )
    design_month: Line = ""
    generator_share: Share = Field(
        default=UNKNOWN, description="share of the design month's energy promised at most from the generator"
    )
    critical: bool = Field(default=False, description="the loads must not fail: more PV is wanted")


class People(Model):
    """Who answers for the site."""

    owner: Line = ""
    supervisor: Line = ""
    telephone: Line = ""


class Planned(Model):
    """Additions that are planned: the check also runs for the plant with them."""

    name: Line
    when: Day = ""
    strings: tuple[BatteryString, ...] = Field(
        default=(), strict=False, description="more strings of the bank"
    )
    inverter_chargers: tuple[InverterCharger, ...] = Field(default=(), strict=False)
    charge_controllers: tuple[ChargeController, ...] = Field(default=(), strict=False)
    ac_pv_inverters: tuple[AcPvInverter, ...] = Field(default=(), strict=False)
    generators: tuple[Generator, ...] = Field(default=(), strict=False)
    runs: tuple[Run, ...] = Field(default=(), strict=False)
    protection: tuple[Protection, ...] = Field(default=(), strict=False)
    panels: tuple[Panel, ...] = Field(default=(), strict=False)
    data_cables: tuple[DataCable, ...] = Field(default=(), strict=False)
    loads: tuple[Load, ...] = Field(default=(), strict=False)
    changes: dict[str, Kept] = Field(
        default_factory=dict, description="keys of the file that get another value: 'runs[run-a].area' = 70"
    )


class Site(Model):
    """A site file."""

    format: Literal[1]
    site: Place
    bank: Bank
    people: People = People()
    inverter_chargers: tuple[InverterCharger, ...] = Field(default=(), strict=False)
    charge_controllers: tuple[ChargeController, ...] = Field(default=(), strict=False)
    ac_pv_inverters: tuple[AcPvInverter, ...] = Field(default=(), strict=False)
    generators: tuple[Generator, ...] = Field(default=(), strict=False)
    utility: Utility | None = None
    monitor: Monitor | None = None
    runs: tuple[Run, ...] = Field(default=(), strict=False)
    protection: tuple[Protection, ...] = Field(default=(), strict=False)
    panels: tuple[Panel, ...] = Field(default=(), strict=False)
    coordination: Coordination = Coordination(kind="none")
    interlocks: tuple[Interlock, ...] = Field(default=(), strict=False)
    earthing: Earthing = Earthing()
    authority: Authority = Authority()
    safety: Safety = Safety()
    data_cables: tuple[DataCable, ...] = Field(default=(), strict=False)
    loads: tuple[Load, ...] = Field(default=(), strict=False)
    expected: Expected = Expected()
    planned: tuple[Planned, ...] = Field(default=(), strict=False)
    checklists: tuple[Ident, ...] = Field(
        default=(), strict=False, description="ids of further checklist files, beside the usual one"
    )
    service: ServicePlan | None = Field(default=None, description="what was agreed about service visits")
