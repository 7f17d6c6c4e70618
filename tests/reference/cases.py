"""Random cases with the answers of outside libraries, one JSON object a line: {"of": what, "in": {…}, "out": {…}}.

    python cases.py > cases.jsonl

The same on every run. Numbers are written as text, so that nothing is rounded on the way; `judge` lines are as
`evenwire-cli judge` takes them. Nothing here is taken from the product's code: each answer comes from a library, from
exact fractions, or from the definition. A case that lies on the edge between two answers is drawn anew, because there
the last bit decides.
"""

import json
import math
import random
import statistics
import struct
import sys
from decimal import ROUND_HALF_UP, Decimal, getcontext
from fractions import Fraction

import GTC
import numpy as np
import pint
from scipy import stats
from vininfo import Vin

getcontext().prec = 60
DRAW = random.Random(20260525)
EDGE = 5e-6


def case(of, given, answer):
    json.dump({"of": of, "in": given, "out": answer}, sys.stdout, separators=(",", ":"))
    sys.stdout.write("\n")


def text(value):
    """A float or a fraction as the shortest text of the float nearest to it."""
    return repr(float(value))


def rounded(value, places):
    """A decimal with so many places, a half away from zero, as a display has it; never minus zero."""
    result = Decimal(value).quantize(Decimal(1).scaleb(-places), ROUND_HALF_UP)
    return format(abs(result) if result == 0 else result, "f")


# --- copper ---


def temperature_factors():
    for _ in range(1500):
        start, end = (Decimal(DRAW.randint(-500, 1500)) / 10 for _ in range(2))
        grown = [1 + Fraction(393, 100_000) * (Fraction(t) - 20) for t in (start, end)]
        case("temperature-factor", {"from": str(start), "to": str(end)}, {"factor": text(grown[1] / grown[0])})


def resistances():
    unit = pint.UnitRegistry()
    resistivity = unit.Quantity(1 / 58, "ohm * mm**2 / m")
    for _ in range(1000):
        length, area = DRAW.randint(1, 20_000), DRAW.randint(1, 4000)
        ohms = (resistivity * unit.Quantity(length, "mm") / unit.Quantity(area / 1000, "mm**2")).to("ohm").magnitude
        given = {"length_m": text(length / 1000), "area_mm2": text(area / 1000)}
        case("resistance", given, {"ohm": text(ohms)})


def wire_gauges():
    for number in range(-3, 41):
        diameter = Decimal("0.127") * Decimal(92) ** (Decimal(36 - number) / 39)
        area = diameter * diameter * Decimal("3.14159265358979323846264338327950288") / 4
        case("wire-gauge", {"number": number}, {"diameter_mm": text(diameter), "area_mm2": text(area)})


# --- torque ---

TORQUES = {
    "newton-metre": "newton * meter",
    "pound-force-foot": "force_pound * foot",
    "pound-force-inch": "force_pound * inch",
    "kilogram-force-metre": "kilogram_force * meter",
    "kilogram-force-centimetre": "kilogram_force * centimeter",
}


def some_torque():
    return Decimal(DRAW.randint(1, 10 ** DRAW.randint(1, 5))).scaleb(-DRAW.randint(0, 3))


def torques():
    unit = pint.UnitRegistry(non_int_type=Decimal)
    drawn = 0
    while drawn < 2500:
        value, places = some_torque(), DRAW.randint(0, 6)
        name, other = DRAW.sample(sorted(TORQUES), 2)
        quantity = unit.Quantity(value, TORQUES[name])
        if quantity.to("newton * meter").magnitude > 10_000:
            continue
        drawn += 1
        shown = rounded(quantity.to(TORQUES[other]).magnitude, places)
        given = {"value": format(value, "f"), "unit": name, "other": other, "places": places}
        case("torque", given, {"shown": shown})


def wrench_ranges():
    unit = pint.UnitRegistry(non_int_type=Decimal)
    drawn = 0
    while drawn < 1000:
        name, most_name = (DRAW.choice(sorted(TORQUES)) for _ in range(2))
        wrench = unit.Quantity(some_torque(), TORQUES[most_name])
        # From a twentieth to one and a half of what the wrench can do, and its very ends where the units are one.
        share = DRAW.choice([Decimal("0.2"), Decimal(1), Decimal(DRAW.randint(50, 1500)) / 1000])
        if name != most_name:
            share = Decimal(DRAW.randint(50, 1500)) / 1000
        value = (wrench * share).to(TORQUES[name]).magnitude
        value = value if name == most_name else Decimal(rounded(value, 3))
        newtons = unit.Quantity(value, TORQUES[name]).to("newton * meter").magnitude
        most = wrench.to("newton * meter").magnitude
        if value <= 0 or max(newtons, most) > 10_000:
            continue
        if name != most_name and min(abs(newtons / most - 1), abs(newtons / most - Decimal("0.2"))) < Decimal("1e-9"):
            continue
        drawn += 1
        exact = value / wrench.magnitude if name == most_name else newtons / most
        place = "above" if exact > 1 else "below" if exact < Decimal("0.2") else "within"
        given = {
            "value": format(value, "f"),
            "unit": name,
            "most": format(wrench.magnitude, "f"),
            "most_unit": most_name,
        }
        case("wrench-range", given, {"range": place})


def settings():
    """The moment about the drive for a hand that brings the wanted moment about the fastener, from cross products."""
    for _ in range(1500):
        torque = Decimal(DRAW.randint(50, 5000)) / 10
        length = DRAW.randint(150, 900)
        adapter, angle = DRAW.randint(0, length * 3 // 4), DRAW.randint(0, 360) / 2
        hand, drive = np.array([-float(length), 0.0, 0.0]), np.zeros(3)
        turned = math.radians(angle)
        fastener = adapter * np.array([math.cos(turned), math.sin(turned), 0.0])
        push = np.array([0.0, -1.0, 0.0])
        about = [float(np.cross(hand - place, push)[2]) for place in (drive, fastener)]
        given = {"torque": str(torque), "length": str(length), "adapter": str(adapter), "angle": str(angle)}
        case("setting", given, {"set": text(float(torque) * about[0] / about[1])})


# --- identification ---

VIN_LETTERS = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"


def vins():
    drawn = 0
    while drawn < 2000:
        letters = [DRAW.choice(VIN_LETTERS) for _ in range(17)]
        tried = {c: Vin("".join(letters[:8] + [c] + letters[9:])) for c in "0123456789X"}
        fitting = [c for c, vin in tried.items() if vin.verify_checksum(check_year=False)]
        if not fitting:
            continue  # The library knows that this maker uses no check digit.
        drawn += 1
        assert len(fitting) == 1
        if DRAW.random() < 0.3:
            letters[8] = fitting[0]
        case("vin", {"vin": "".join(letters)}, {"fitting": fitting[0], "fits": letters[8] == fitting[0]})


def trouble_codes():
    systems = {"00": "P", "01": "C", "10": "B", "11": "U"}
    for _ in range(3000):
        number = DRAW.randint(0, 65_535) if DRAW.random() > 0.01 else 0
        bits = format(number, "016b")
        code = systems[bits[:2]] + str(int(bits[2:4], 2))
        code += "".join("0123456789ABCDEF"[int(bits[at : at + 4], 2)] for at in (4, 8, 12))
        sent = struct.pack(">H", number)
        if DRAW.random() < 0.5:
            failure = DRAW.randint(0, 255)
            sent += bytes([failure])
            code += "-" + bytes([failure]).hex().upper()
        case("trouble-code", {"bytes": sent.hex()}, {"code": code if number else None})


# --- what a meter sends ---

INTEGERS = {0x04: (1, False), 0x06: (2, False), 0x08: (4, False), 0x0C: (1, True), 0x0E: (2, True), 0x0F: (3, True), 0x10: (4, True)}
STATES_16 = {0x7FF: "blank", 0x800: "blank", 0x7FE: "over-range", 0x802: "over-range", 0x801: "blank"}
STATES_32 = {0x7FFFFF: "blank", 0x800000: "blank", 0x7FFFFE: "over-range", 0x800002: "over-range", 0x800001: "blank"}


def sent(of, code, exponent, payload, shown, places=None):
    descriptor = struct.pack("<BbHBH", code, exponent, 0x272A, 1, 0)
    given = {"descriptor": descriptor.hex(), "places": places, "bytes": payload.hex()}
    case(of, given, {"shown": shown})


def integers():
    for _ in range(1500):
        code = DRAW.choice(sorted(INTEGERS))
        size, signed = INTEGERS[code]
        exponent, payload = DRAW.randint(-8, 4), DRAW.randbytes(size)
        number = Decimal(int.from_bytes(payload, "little", signed=signed)).scaleb(exponent)
        sent("integer", code, exponent, payload, format(number, "f"))


def decimal_floats(of, code, width, states):
    mantissa_bits, exponent_bits = width
    for _ in range(2000):
        mantissa, exponent = DRAW.getrandbits(mantissa_bits), DRAW.randint(-(2 ** (exponent_bits - 1)), 2 ** (exponent_bits - 1) - 1)
        if DRAW.random() < 0.8:
            exponent = DRAW.randint(-6, 3)
        if DRAW.random() < 0.05:
            mantissa = DRAW.choice(sorted(states))
        if mantissa in states:
            exponent, shown = 0, states[mantissa]
        else:
            signed = mantissa - (1 << mantissa_bits if mantissa >> (mantissa_bits - 1) else 0)
            number = Decimal(signed).scaleb(exponent)
            # What a display can show: up to twelve places, and whole numbers of 64 bits.
            kept = -12 <= exponent <= 18 and abs(number) < 2**63
            shown = format(number if number else abs(number), "f") if kept else "refused"
        raw = (exponent & ((1 << exponent_bits) - 1)) << mantissa_bits | mantissa
        sent(of, code, 0, raw.to_bytes((mantissa_bits + exponent_bits) // 8, "little"), shown)


def binary_floats(of, code, letter):
    for _ in range(2000):
        places = DRAW.randint(0, 6)
        value = DRAW.choice([-1, 1, 1, 1]) * 10 ** DRAW.uniform(-6, 5)
        kind = DRAW.random()
        if kind < 0.1:
            # Halves, quarters, eighths: a tie at some number of places.
            value = DRAW.randint(-4000, 4000) / 2 ** DRAW.randint(1, 6)
        elif kind < 0.15:
            value = DRAW.choice([math.inf, -math.inf, math.nan, 0.0, -0.0])
        payload = struct.pack("<" + letter, value)
        value = struct.unpack("<" + letter, payload)[0]
        if math.isnan(value):
            shown = "blank"
        elif math.isinf(value):
            shown = "over-range"
        else:
            shown = rounded(Decimal(value), places)
        sent(of, code, 0, payload, shown, places)


# --- statistics ---


def samples():
    middle = DRAW.choice([0.0, 0.3, 5.0, 1e3, 1e6, 1e9]) * DRAW.choice([1, 1, -1])
    spread = 10 ** DRAW.uniform(-3, 2)
    return [middle + DRAW.gauss(0, spread) for _ in range(DRAW.randint(4, 60))]


def means_and_deviations():
    """By exact fractions; the deviation of numbers near 10^9 tells a one-pass formula at once."""
    for _ in range(800):
        values = samples()
        exact = {"mean": text(statistics.mean(values)), "deviation": text(statistics.stdev(values))}
        assert math.isclose(float(exact["mean"]), np.mean(values), rel_tol=1e-9, abs_tol=1e-9)
        case("statistics", {"values": [text(x) for x in values]}, exact)


def normal_limits():
    """A value with its uncertainty between limits: scipy's normal distribution, U = 2u."""
    drawn = 0
    while drawn < 2000:
        value, u = DRAW.uniform(-1, 5), 10 ** DRAW.uniform(-3, 0)
        high = value + DRAW.uniform(-6, 6) * u
        low = high - DRAW.uniform(0.1, 12) * u
        which = DRAW.choice(["high", "low", "both"])
        low, high = (low if which != "high" else None), (high if which != "low" else None)
        ends = [end for end in (low, high) if end is not None]
        if min(abs(abs(value - end) - 2 * u) for end in ends) < EDGE:
            continue
        drawn += 1
        p = (1.0 if high is None else stats.norm.cdf(high, value, u)) - (0.0 if low is None else stats.norm.cdf(low, value, u))
        outside = (high is not None and value - 2 * u > high) or (low is not None and value + 2 * u < low)
        inside = (high is None or value + 2 * u <= high) and (low is None or value - 2 * u >= low)
        result = "not-conform" if outside else "conform" if inside else "undecided"
        ends = {"low": low if low is None else text(low), "high": high if high is None else text(high)}
        case("conformity", {"value": text(value), "u": text(u), **ends}, {"p": text(p), "result": result})


# --- verdicts ---


class Redraw(Exception):
    """The case lies on an edge, or is not of the simple kind."""


def apart(*differences):
    if any(abs(difference) < EDGE for difference in differences):
        raise Redraw


class Bench:
    """Meter, leads and temperature of a drawn part, as GTC's uncertain numbers want them."""

    def __init__(self):
        self.step = DRAW.choice(["0.1", "0.01", "0.001"])
        self.q = float(self.step)
        self.accuracy = {"pct": DRAW.choice([0.2, 0.5, 0.8, 1.5]), "counts": DRAW.choice([1, 2, 3, 5])}
        self.zeroed, self.zero, self.zero_end = True, None, None
        self.left, u_zero = 0.0, self.q / math.sqrt(12)
        kind = DRAW.random()
        if kind < 0.25:
            self.zeroed, self.left, u_zero = False, 0.20, 0.20 / math.sqrt(3)
        elif kind < 0.5:
            self.zeroed = False
            self.zero, self.zero_end = self.on_display(DRAW.uniform(0, 0.4)), self.on_display(DRAW.uniform(0, 0.4))
            u_zero = self.q / math.sqrt(6)
        moved = abs(float(self.zero) - float(self.zero_end)) if self.zero else 0.0
        self.u_zero, self.u_moved = u_zero, moved / math.sqrt(3)

    def on_display(self, ohms):
        return rounded(Decimal(ohms), len(self.step) - 2)

    def line(self, conductors, **more):
        number = lambda shown: None if shown is None else float(shown)
        leads = {"zeroed": self.zeroed, "zero": number(self.zero), "zero_end": number(self.zero_end)}
        line = {"test": "verdict", "resolution": self.q, "accuracy": self.accuracy, "leads": leads, "bars_open": True}
        return {**line, **more, "conductors": conductors}

    def touches(self, ohms):
        """Two or three touches of some display readings each, and their means without the zero."""
        lead = self.left + (float(self.zero) if self.zero else 0.0)
        shown, means = [], []
        for _ in range(DRAW.choice([2, 2, 3])):
            contact = ohms + lead + DRAW.gauss(0, 0.015)
            readings = [self.on_display(max(contact + DRAW.gauss(0, self.q / 3), 0)) for _ in range(DRAW.randint(1, 5))]
            settled = 2 * self.q + 0.10 + 0.02 * float(np.median([float(x) for x in readings]))
            if max(map(float, readings)) - min(map(float, readings)) > settled - 0.02:
                raise Redraw
            shown.append([float(x) for x in readings])
            zero = Decimal(self.zero) if self.zero else Decimal(0)
            means.append(float(statistics.mean(Fraction(x) - Fraction(zero) for x in readings)))
        return shown, means


def tolerances(level, left):
    above = max(level - left, 0.0)
    return max(0.20, 0.15 * above), max(0.06, 0.30 * above)


def touch_uncertainty(groups):
    freedom = sum(len(values) - 1 for values in groups)
    pooled = sum(np.var(values) * len(values) for values in groups) / freedom if freedom else 0.0
    return max(0.03, math.sqrt(pooled)) if freedom >= 3 else 0.03


def one_level(bench, values):
    """Who carries the level: everybody, or everybody but one that stands clear of all others."""
    width = lambda start: 2 / 3 * tolerances(start, bench.left)[0]
    order = sorted(range(len(values)), key=lambda i: values[i])
    for members in (order, order[:-1], order[1:]):
        low, high = values[members[0]], values[members[-1]]
        if high - low > width(low) - EDGE:
            continue
        others = [values[i] for i in order if i not in members]
        clear = all(x - high > width(high) + EDGE or low - x > width(x) + EDGE for x in others)
        if clear:
            return sorted(members)
    raise Redraw


def against_level(bench, value, level):
    """d, u, U, p and the finding of one conductor against a level: GTC for u, scipy for p."""
    (x, u_x), (r, u_r), (high, low) = value, level, tolerances(level[0], bench.left)
    gain = GTC.ureal(1, bench.accuracy["pct"] / 100 / math.sqrt(3))
    difference = gain * (GTC.ureal(x, u_x) - GTC.ureal(r, u_r))
    d, u = GTC.value(difference), GTC.uncertainty(difference)
    expanded = max(2 * u, bench.q)
    apart(d - expanded - high, d + expanded + low, d + expanded - high, d + low)
    if d - expanded > high:
        state = "high"
    elif d + expanded < -low:
        state = "low"
    else:
        state = "consistent" if d >= -low and d + expanded <= high else "undecided"
    p = stats.norm.cdf((high - d) / u) - stats.norm.cdf((-low - d) / u)
    return {"verdict": state, "value": x, "deviation": d, "u": u, "U": expanded, "p": p}


def read_part(bench, ohms):
    """What the display showed on each conductor, its value, and its standard uncertainty."""
    lines, values, repeated = [], [], []
    for resistance in ohms:
        shown, means = bench.touches(resistance)
        middle = statistics.median(means)
        agree = tolerances(abs(middle), 0.0)[0] / 2 + bench.q / 2
        if max(abs(x - middle) for x in means) > agree - EDGE or middle < -0.02:
            raise Redraw
        lines.append({"group": "a", "touches": shown})
        values.append(middle)
        repeated.append(means)
    u_touch = touch_uncertainty(repeated)
    u_values = [
        GTC.uncertainty(sum(GTC.ureal(0, u) for u in (bench.q / math.sqrt(12), u_touch / math.sqrt(len(means)), bench.u_moved)))
        for means in repeated
    ]
    return lines, list(zip(values, u_values))


def whole(conductors, level):
    states = {conductor["verdict"] for conductor in conductors}
    if states & {"high", "low"}:
        return "fail"
    return "undecided" if "undecided" in states or level > 2.5 else "pass"


def simple_group():
    bench, count = Bench(), DRAW.randint(4, 7)
    base = DRAW.choice([DRAW.uniform(0.1, 0.6), DRAW.uniform(0.6, 2.0), DRAW.uniform(2.0, 5.0)])
    ohms = [base * DRAW.gauss(1, 0.01) for _ in range(count)]
    odd = DRAW.choice([0.0, DRAW.uniform(0.0, 0.12), DRAW.uniform(0.15, 0.6), DRAW.uniform(0.5, 12), -base * DRAW.uniform(0.3, 1)])
    ohms[DRAW.randrange(count)] += odd
    lines, values = read_part(bench, ohms)
    members = one_level(bench, [x for x, _ in values])
    carried = [values[i][0] for i in members]
    own = float(np.mean([values[i][1] ** 2 for i in members]))
    level = float(np.mean(carried))
    u_level = math.sqrt(max(float(np.var(carried, ddof=1)), own) / len(members))
    apart(level - bench.left - 2.5)
    high, low = tolerances(level, bench.left)
    conductors = [against_level(bench, value, (level, u_level)) for value in values]
    group = {"reference": level, "u_ref": u_level, "tolerance": high, "low_tolerance": low, "members": members}
    answer = {"set": whole(conductors, level - bench.left), "conductors": conductors, "groups": {"a": group}}
    return bench.line(lines), answer


def known_good():
    bench, base = Bench(), DRAW.uniform(0.2, 2.0)
    level = {"value": base, "u": DRAW.uniform(0.005, 0.05), "same_meter": DRAW.random() < 0.5}
    now, then = (DRAW.choice([None, DRAW.randint(-10, 60)]) for _ in range(2))
    warmed, kelvin = 1.0, 6.0
    if now is not None and then is not None:
        warmed, kelvin = (1 + 0.00393 * (now - 20)) / (1 + 0.00393 * (then - 20)), 2.0
        level["t"] = then
    ohms = [base * warmed + DRAW.choice([0, 0, DRAW.uniform(0.1, 1.0)]) for _ in range(DRAW.randint(2, 5))]
    lines, values = read_part(bench, ohms)
    reference = base * warmed
    sheet = 0.0
    if not level["same_meter"]:
        sheet = (bench.accuracy["pct"] / 100 * reference + bench.accuracy["counts"] * bench.q) / math.sqrt(3)
    zero = bench.u_zero if bench.left else 0.0
    parts = (level["u"], 0.00393 * kelvin * reference, sheet, zero)
    u_level = GTC.uncertainty(sum(GTC.ureal(0, u) for u in parts))
    reference += bench.left
    high, low = tolerances(reference, bench.left)
    conductors = [against_level(bench, value, (reference, u_level)) for value in values]
    group = {"reference": reference, "u_ref": u_level, "tolerance": high, "low_tolerance": low, "members": []}
    line = bench.line(lines, known_good=level, t=now)
    return line, {"set": whole(conductors, 0.0), "conductors": conductors, "groups": {"a": group}}


def maker_limit():
    bench, base = Bench(), DRAW.uniform(0.2, 3.0)
    lines, [(value, u_value)] = read_part(bench, [base])
    now, then = DRAW.choice([None, DRAW.randint(-10, 60)]), DRAW.choice([None, 20, DRAW.randint(-10, 60)])
    warmed, kelvin = 1.0, 0.0
    if then is not None:
        warmed, kelvin = (1.0, 6.0) if now is None else ((1 + 0.00393 * (now - 20)) / (1 + 0.00393 * (then - 20)), 2.0)
    high = round(base + DRAW.uniform(-0.6, 0.8), 2)
    low = DRAW.choice([None, round(high - DRAW.uniform(0.3, 2.0), 2)])
    lines[0]["limit"] = {"high": high, "low": low, "t": then}
    y = value - bench.left
    sheet = (bench.accuracy["pct"] / 100 * abs(y) + bench.accuracy["counts"] * bench.q) / math.sqrt(3)
    parts = (u_value, bench.u_zero, sheet, 0.00393 * kelvin * y)
    u = GTC.uncertainty(sum(GTC.ureal(0, part) for part in parts))
    expanded = max(2 * u, bench.q)
    high, low = high * warmed, None if low is None else low * warmed
    apart(*(y + side * expanded - end for end in (high, low) if end is not None for side in (1, -1)))
    above, below = y - expanded > high, low is not None and y + expanded < low
    inside = y + expanded <= high and (low is None or y - expanded >= low)
    result = "not-conform" if above or below else "conform" if inside else "undecided"
    p = stats.norm.cdf((high - y) / u) - (0.0 if low is None else stats.norm.cdf((low - y) / u))
    state = {"conform": "consistent", "undecided": "undecided"}.get(result, "high" if above else "low")
    limit = {"value": y, "u": u, "U": expanded, "high": high, "low": low, "result": result, "p": p}
    return bench.line(lines, t=now), {"conductors": [{"verdict": state, "limit": limit}]}


def verdicts():
    for of, draw, count in (("simple-group", simple_group, 1200), ("known-good", known_good, 500), ("limit", maker_limit, 800)):
        drawn = 0
        while drawn < count:
            try:
                line, answer = draw()
            except Redraw:
                continue
            drawn += 1
            case(of, {"line": json.dumps(line)}, answer)


def resistors():
    """A meter tried on a known resistor: what its sheet and the resistor allow, with a guard band of 2u."""
    drawn = 0
    while drawn < 800:
        bench, resistor, percent = Bench(), DRAW.choice([0.1, 0.5, 1.0, 2.2, 4.7, 10.0]), DRAW.choice([0.1, 1.0, 5.0])
        lead = bench.left + (float(bench.zero) if bench.zero else 0.0)
        read = bench.on_display(max(resistor + lead + DRAW.gauss(0, 0.15), 0))
        shown = GTC.ureal(float(Decimal(read) - Decimal(bench.zero or 0)) - bench.left, bench.u_zero) + GTC.ureal(0, 0.03)
        difference, guard = GTC.value(shown) - resistor, 2 * GTC.uncertainty(shown)
        sheet = bench.accuracy["pct"] / 100 * abs(GTC.value(shown)) + bench.accuracy["counts"] * bench.q
        allowed = sheet + percent / 100 * resistor
        if min(abs(abs(difference) + side * guard - allowed) for side in (1, -1)) < EDGE:
            continue
        drawn += 1
        inside, outside = abs(difference) + guard <= allowed, abs(difference) - guard > allowed
        result = "within" if inside else "outside" if outside else "undecided"
        given = {"ohm": read, "resistor": text(resistor), "percent": text(percent), "line": bench.line([])}
        case("resistor", given, {"difference": text(difference), "allowed": text(allowed), "result": result})


# --- sweeps ---


def trace():
    """A stream as a meter would send it: base, drift, a slow wander, noise, perhaps a fault, rounded to the display."""
    step, rate = DRAW.choice(["0.001", "0.01"]), DRAW.uniform(2.5, 8)
    length, base, drift = DRAW.uniform(12, 45), DRAW.uniform(0.2, 1.6), DRAW.uniform(-0.12, 0.12) / 60
    wander, period = DRAW.uniform(0.001, 0.006), DRAW.uniform(3, 8)
    # A sound contact, and one so restless that its own noise sets the threshold.
    noise = DRAW.choice([DRAW.uniform(0, 0.008), DRAW.uniform(0, 0.008), DRAW.uniform(0.01, 0.04)])
    fault = DRAW.choice([0.0, 0.0, DRAW.uniform(0.1, 3.0), math.inf])
    begin, lasting = DRAW.uniform(3, length - 4), DRAW.uniform(0.3, 2.0)
    samples, t = [], DRAW.uniform(0, 100)
    start = t
    while t - start < length:
        ohms = base + drift * (t - start) + wander * math.sin(2 * math.pi * (t - start) / period) + DRAW.gauss(0, noise)
        if begin <= t - start < begin + lasting:
            ohms += fault
        samples.append((round(t, 3), None if math.isinf(ohms) else rounded(Decimal(max(ohms, 0.0)), len(step) - 2)))
        t += DRAW.uniform(0.8, 1.2) / rate
    return step, samples


def sweep_answer(step, samples):
    t = np.array([at for at, _ in samples])
    x = np.array([math.nan if ohms is None else float(ohms) for _, ohms in samples])
    finite, t = ~np.isnan(x), t - t[0]
    if not (finite[0] and finite[-1]):
        raise Redraw
    slices = int(np.clip(int(t[-1] / 3), 4, 12))
    apart(t[-1] / 3 - round(t[-1] / 3), *(t[1:-1] / t[-1] * slices - np.round(t[1:-1] / t[-1] * slices)))
    of = np.minimum((t / t[-1] * slices).astype(int), slices - 1)
    chosen = [finite & (of == at) for at in range(slices)]
    middles = [(np.median(t[some]), np.median(x[some])) for some in chosen if some.sum() >= 3]
    raw = stats.theilslopes([m[1] for m in middles], [m[0] for m in middles]).slope
    slope = float(np.clip(raw, -0.05 / 60, 0.05 / 60))
    flat = x[finite] - slope * t[finite]
    level = float(np.quantile(flat, 0.5, method="lower"))
    both = finite[1:] & finite[:-1]
    changes = np.abs(np.diff(x)[both])
    changes = changes[changes > 1e-6]
    noise = 0.0
    if len(changes) >= 5:
        noise = 1.4826 * min(np.median(np.abs(flat - level)), np.median(changes) / math.sqrt(2))
    wanted = max(0.05, 3 * float(step))
    threshold = max(wanted, 4 * noise)
    off = x - (level + slope * t)
    known = off[finite]
    apart(*(np.abs(known) - threshold), *(np.abs(known) - 2 * threshold), threshold - 2 * wanted)
    marked = ~finite | (np.abs(np.nan_to_num(off)) > threshold)
    neighbours = np.any(marked[1:] & marked[:-1]) or np.any(marked[2:] & marked[:-2])
    if not finite.all():
        verdict = "dropout"
    elif neighbours or np.any(np.abs(known) > 2 * threshold) or marked.sum() >= 3:
        verdict = "jump"
    else:
        verdict = "noisy" if threshold > 2 * wanted else "steady"
    numbers = {"baseline": level, "slope": slope, "noise": noise, "threshold": threshold, "rate": (len(t) - 1) / t[-1]}
    return {**{name: text(value) for name, value in numbers.items()}, "verdict": verdict}


def sweeps():
    drawn = 0
    while drawn < 500:
        step, samples = trace()
        try:
            answer = sweep_answer(step, samples)
        except Redraw:
            continue
        drawn += 1
        case("sweep", {"step": step, "samples": [[text(t), ohms] for t, ohms in samples]}, answer)


def places():
    """Where a part was between marks set by a hand, thousandths of a turn: NumPy's linear interpolation."""
    for _ in range(1000):
        moments = np.cumsum([DRAW.randint(0, 5000)] + [DRAW.randint(1, 20_000) for _ in range(DRAW.randint(1, 9))])
        marks = [DRAW.randint(-4, 4) * 1000 for _ in moments]
        at = DRAW.randint(max(int(moments[0]) - 500, 0), int(moments[-1]) + 500)
        at = int(DRAW.choice(moments)) if DRAW.random() < 0.1 else at
        milli = np.interp(at, moments, marks, left=math.nan, right=math.nan)
        after = int(np.searchsorted(moments, at))
        on_mark = after < len(moments) and moments[after] == at
        give_or_take = 0.0 if on_mark or math.isnan(milli) else abs(marks[after] - marks[after - 1]) / 3
        answer = None if math.isnan(milli) else {"milli": text(milli), "off": text(give_or_take)}
        given = {"marks": [[int(moment), milli] for moment, milli in zip(moments, marks)], "at": at}
        case("place", given, {"place": answer})


temperature_factors()
resistances()
wire_gauges()
torques()
wrench_ranges()
settings()
vins()
trouble_codes()
integers()
decimal_floats("medfloat16", 0x16, (12, 4), STATES_16)
decimal_floats("medfloat32", 0x17, (24, 8), STATES_32)
binary_floats("float32", 0x14, "f")
binary_floats("float64", 0x15, "d")
means_and_deviations()
normal_limits()
verdicts()
sweeps()
resistors()
places()
