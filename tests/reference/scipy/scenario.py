"""Reads a scenario file into SI numbers. Every key that is needed must be there: nothing has a default."""
import math
import tomllib

# IEC 60228, maximum d.c. resistance at 20 degC of plain copper, ohm/km by mm2: table 3 (class 5), table 2 (class 2).
CONDUCTOR_OHM_PER_KM = {
    "class-5": {1.5: 13.3, 2.5: 7.98, 4: 4.95, 6: 3.30, 10: 1.91, 16: 1.21, 25: 0.780, 35: 0.554,
                50: 0.386, 70: 0.272, 95: 0.206, 120: 0.161},
    "class-2": {1.5: 12.1, 2.5: 7.41, 4: 4.61, 6: 3.08, 10: 1.83, 16: 1.15, 25: 0.727, 35: 0.524,
                50: 0.387, 70: 0.268, 95: 0.193, 120: 0.153},
}
DURATION_UNITS = {"duration_s": 1.0, "duration_min": 60.0, "duration_h": 3600.0}


class ScenarioError(Exception):
    """The scenario cannot be run; the message names the key."""


class Table:
    """A TOML table that knows its own path, so that a complaint can name the key."""

    def __init__(self, values, path):
        self.values, self.path = values, path

    def has(self, key):
        return key in self.values

    def table(self, key):
        return Table(self._get(key, dict, "a table"), f"{self.path}{key}.")

    def number(self, key, low=None, above=None):
        value = self._get(key, (int, float), "a number")
        where = self.path + key
        if isinstance(value, bool) or not math.isfinite(value):
            raise ScenarioError(f"{where}: not a finite number")
        if low is not None and value < low:
            raise ScenarioError(f"{where} = {value}: must be {low} or more")
        if above is not None and value <= above:
            raise ScenarioError(f"{where} = {value}: must be more than {above}")
        return float(value)

    def text(self, key):
        return self._get(key, str, "a text")

    def list(self, key):
        return self._get(key, list, "a list")

    def _get(self, key, kind, wanted):
        if key not in self.values:
            raise ScenarioError(f"missing key: {self.path}{key}")
        if not isinstance(self.values[key], kind):
            raise ScenarioError(f"{self.path}{key}: {wanted} is wanted")
        return self.values[key]


class Record:
    """A plain bag of named values."""

    def __init__(self, **values):
        self.__dict__.update(values)


def load(path, settings=()):
    """Read the file, apply `key.path=value` settings, and convert."""
    try:
        with open(path, "rb") as file:
            tree = tomllib.load(file)
    except (OSError, tomllib.TOMLDecodeError) as fault:
        raise ScenarioError(f"{path}: {fault}") from fault
    for setting in settings:
        apply_setting(tree, setting)
    return convert(Table(tree, ""))


def index(number):
    if int(number) < 1:
        raise IndexError(number)
    return int(number) - 1


def apply_setting(tree, setting):
    """`a.b=value`; a whole number in the path counts into a list from 1."""
    key, equals, text = setting.partition("=")
    if not equals:
        raise ScenarioError(f"--set {setting}: key.path=value is wanted")
    try:
        value = tomllib.loads(f"value = {text}")["value"]
    except tomllib.TOMLDecodeError:
        value = text
    *parents, last = key.strip().split(".")
    node = tree
    try:
        for name in parents:
            node = node[index(name)] if isinstance(node, list) else node.setdefault(name, {})
        node[index(last) if isinstance(node, list) else last] = value
    except (ValueError, IndexError, AttributeError, TypeError) as fault:
        raise ScenarioError(f"--set {setting}: no such place") from fault


def convert(root):
    alternator = root.table("alternator")
    vehicle = root.table("vehicle")
    unit = root.table("converter")
    gate = root.table("start_stop")
    stages = root.table("stages")
    solar = root.table("house_solar") if root.has("house_solar") else None
    scenario = Record(
        alternator=Record(
            set_point_v=alternator.number("set_point_v"),
            droop_ohm=alternator.number("droop_mohm", above=0) / 1e3,
            asymptote_a=alternator.number("asymptote_a", low=0),
            cut_in_rpm=alternator.number("cut_in_rpm", low=0),
            rise_rpm=alternator.number("rise_rpm", above=0),
            pulley_ratio=alternator.number("pulley_ratio", above=0)),
        running_load_a=vehicle.number("running_load_a", low=0),
        parked_load_a=vehicle.number("parked_load_a", low=0),
        crank_a=vehicle.number("crank_a", low=0),
        crank_s=vehicle.number("crank_s", low=0),
        starter=battery(root.table("starter_battery")),
        house=battery(root.table("house_battery")),
        input_cable_ohm=cable_ohm(root.table("input_cable")),
        output_cable_ohm=cable_ohm(root.table("output_cable")),
        output_limit_a=unit.number("output_limit_a", low=0),
        input_limit_a=unit.number("input_limit_a", above=0),
        fixed_loss_w=unit.number("fixed_loss_w", low=0),
        proportional_loss=unit.number("proportional_loss_pct", low=0) / 100,
        square_loss_per_w=unit.number("square_loss_per_w", low=0),
        ramp_s=unit.number("ramp_s", low=0),
        standby_a=unit.number("standby_ma", low=0) / 1e3,
        turn_on_v=gate.number("turn_on_v"),
        turn_on_delay_s=gate.number("turn_on_delay_s", low=0),
        turn_off_v=gate.number("turn_off_v"),
        turn_off_delay_s=gate.number("turn_off_delay_s", low=0),
        absorption_v=stages.number("absorption_v"),
        tail_a=stages.number("tail_a", low=0),
        tail_hold_s=stages.number("tail_hold_s", low=0),
        absorption_cap_s=stages.number("absorption_cap_min", low=0) * 60,
        float_v=stages.number("float_v"),
        recharge_v=stages.number("recharge_v"),
        recharge_hold_s=stages.number("recharge_hold_s", low=0),
        solar_set_point_v=solar.number("set_point_v") if solar else None,
        solar_ohm=solar.number("resistance_mohm", above=0) / 1e3 if solar else None)
    if scenario.turn_on_v <= scenario.turn_off_v:
        raise ScenarioError("start_stop.turn_on_v: must be more than start_stop.turn_off_v")
    house = root.table("house")
    house_load_w = house.number("load_w", low=0)
    # Needed only where the house battery runs empty.
    scenario.loads_return_v = house.number("loads_return_v", low=0) if house.has("loads_return_v") else None
    scenario.loads_hold_s = house.number("loads_hold_s", above=0) if house.has("loads_hold_s") else None
    solar_w = solar.number("power_w", low=0) if solar else 0.0
    scenario.pieces = pieces(root.table("drive"), scenario, house_load_w, solar_w, solar is not None)
    return scenario


def battery(table):
    chemistry = table.text("chemistry")
    values = Record(
        chemistry=chemistry,
        capacity_as=table.number("capacity_ah", above=0) * 3600,
        start=table.number("start_pct", low=0) / 100,
        r0_ohm=table.number("r0_mohm", above=0) / 1e3,
        r1_ohm=table.number("r1_mohm", low=0) / 1e3, tau1_s=table.number("tau1_s", above=0),
        r2_ohm=table.number("r2_mohm", low=0) / 1e3, tau2_s=table.number("tau2_s", above=0),
        charge_efficiency=table.number("charge_efficiency_pct", above=0) / 100)
    if values.start > 1 or values.charge_efficiency > 1:
        raise ScenarioError(f"{table.path}start_pct, {table.path}charge_efficiency_pct: 100 at most")
    if chemistry == "linear":
        values.empty_v, values.full_v = table.number("empty_v"), table.number("full_v")
    elif chemistry == "lfp":
        values.cells = table.number("cells", above=0)
    else:
        raise ScenarioError(f"{table.path}chemistry: {chemistry!r} is outside the plain model")
    return values


def cable_ohm(table):
    """Both legs at 20 degC, and the joints."""
    conductor, area_mm2 = table.text("conductor"), table.number("area_mm2", above=0)
    if conductor not in CONDUCTOR_OHM_PER_KM:
        raise ScenarioError(f"{table.path}conductor: {conductor!r} is not one of {sorted(CONDUCTOR_OHM_PER_KM)}")
    sizes = CONDUCTOR_OHM_PER_KM[conductor]
    if area_mm2 not in sizes:
        raise ScenarioError(f"{table.path}area_mm2: {area_mm2} is not one of {sorted(sizes)}")
    legs_ohm = 2 * table.number("length_m", low=0) * sizes[area_mm2] / 1e3
    return legs_ohm + table.number("joints_mohm", low=0) / 1e3


def pieces(drive, scenario, house_load_w, solar_w, has_solar):
    """Each piece carries everything that holds during it, its greatest alternator current included."""
    made, start_s, alternator = [], 0.0, scenario.alternator
    for index, values in enumerate(drive.list("piece")):
        piece = Table(values, f"drive.piece.{index + 1}.")
        given = [key for key in DURATION_UNITS if piece.has(key)]
        if len(given) != 1:
            raise ScenarioError(f"{piece.path}: exactly one of {', '.join(DURATION_UNITS)} is wanted")
        end_s = start_s + piece.number(given[0], above=0) * DURATION_UNITS[given[0]]
        rpm = piece.number("engine_rpm", low=0)
        own_load = "vehicle_load_a"
        usual_a = scenario.running_load_a if rpm > 0 else scenario.parked_load_a
        if piece.has("house_solar_w") and not has_solar:
            raise ScenarioError(f"missing key: house_solar.set_point_v ({piece.path}house_solar_w needs it)")
        above_cut_in_rpm = rpm * alternator.pulley_ratio - alternator.cut_in_rpm
        greatest_a = -alternator.asymptote_a * math.expm1(-max(0.0, above_cut_in_rpm) / alternator.rise_rpm)
        made.append(Record(
            start_s=start_s, end_s=end_s, running=rpm > 0, alternator_limit_a=greatest_a,
            set_point_v=piece.number("set_point_v") if piece.has("set_point_v") else alternator.set_point_v,
            vehicle_a=piece.number(own_load, low=0) if piece.has(own_load) else usual_a,
            house_load_w=piece.number("house_load_w", low=0) if piece.has("house_load_w") else house_load_w,
            solar_w=piece.number("house_solar_w", low=0) if piece.has("house_solar_w") else solar_w))
        start_s = end_s
    if not made:
        raise ScenarioError("drive.piece: at least one piece is wanted")
    return made
