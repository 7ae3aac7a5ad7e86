"""The table itself: each unit code, its spellings in schedules and forms, its quantity, its factor."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Unit:
    """One row of the closed table of unit codes.

    Attributes:
        code: the code that is stored and sent.
        symbols: spellings seen in schedules and forms; the first is the one to print.
        quantity: what the unit measures.
        pint_expr: the unit written for pint, always by us.
        inch_of_water_power: power of the inch of water in the unit, beside what `pint_expr` says.
    """

    code: str
    symbols: tuple[str, ...]
    quantity: str
    pint_expr: str
    inch_of_water_power: float = 0.0

    @property
    def label(self) -> str:
        """The spelling to print."""
        return self.symbols[0]


_CFM = "foot**3/minute"

UNITS: tuple[Unit, ...] = (
    Unit("m3/s", ("m³/s", "m^3/s", "cu m/s", "cms", "m3s-1"), "airflow", "meter**3/second"),
    Unit("m3/h", ("m³/h", "m^3/h", "m3/hr", "m³/hr", "cmh", "cu m/h"), "airflow", "meter**3/hour"),
    Unit("L/s", ("L/s", "l/s", "lps", "litre/s", "liter/s", "L/sec", "litres/s"), "airflow", "liter/second"),
    Unit("cfm", ("cfm", "ft³/min", "ft3/min", "cu ft/min", "cubic feet per minute"), "airflow", _CFM),
    Unit("Pa", ("Pa", "pascal", "N/m2"), "pressure", "pascal"),
    Unit("kPa", ("kPa", "kilopascal"), "pressure", "kilopascal"),
    Unit("hPa", ("hPa", "mbar", "millibar"), "pressure", "hectopascal"),
    Unit(
        "in_wc",
        (
            "in. w.c.",
            "in wc",
            "in wg",
            "in. w.g.",
            "inwc",
            "inwg",
            "in H2O",
            "inH2O",
            "in. H2O",
            "iwc",
            "iwg",
            '"wc',
            '"wg',
            '" w.c.',
            '" w.g.',
            '"H2O',
            "in water",
            "inches wc",
            "inches wg",
            "inches H2O",
            "inches of water",
            "inch wc",
            "inch wg",
            "inch of water",
            "in w.col.",
        ),
        "pressure",
        "pascal",
        1.0,
    ),
    Unit(
        "mm_wc",
        ("mm w.c.", "mm wc", "mm wg", "mmH2O", "mm H2O", "mmwg", "mmwc", "mm of water"),
        "pressure",
        "pascal/25.4",
        1.0,
    ),
    Unit("inHg", ("in. Hg", "inHg", "in Hg", '"Hg', "inches Hg", "inches of mercury"), "pressure", "inch_Hg"),
    Unit("psi", ("psi", "lb/in2", "lbf/in2"), "pressure", "psi"),
    Unit("m/s", ("m/s", "m/sec", "mps"), "velocity", "meter/second"),
    Unit("fpm", ("fpm", "ft/min", "feet/min", "feet per minute"), "velocity", "foot/minute"),
    Unit("mph", ("mph", "mi/h", "miles per hour"), "velocity", "mile/hour"),
    Unit("degC", ("°C", "deg C", "Cel", "celsius", "C"), "temperature", "kelvin"),
    Unit("degF", ("°F", "deg F", "fahrenheit", "F"), "temperature", "kelvin/1.8"),
    Unit("K", ("K", "kelvin"), "temperature", "kelvin"),
    Unit(
        "delta_K",
        ("K (difference)", "delta K", "delta °C", "delta degC", "ΔK", "Δ°C"),
        "temperature difference",
        "kelvin",
    ),
    Unit(
        "delta_degF",
        ("°F (difference)", "delta °F", "delta degF", "Δ°F"),
        "temperature difference",
        "kelvin/1.8",
    ),
    Unit("m", ("m", "metre", "meter", "metres", "meters"), "length", "meter"),
    Unit("cm", ("cm", "centimetre", "centimeter"), "length", "centimeter"),
    Unit("mm", ("mm", "millimetre", "millimeter"), "length", "millimeter"),
    Unit("in", ("in",), "length", "inch"),
    Unit("ft", ("ft", "foot", "feet"), "length", "foot"),
    Unit("m2", ("m²", "m^2", "sq m", "sqm"), "area", "meter**2"),
    Unit("ft2", ("ft²", "ft^2", "sq ft", "sqft"), "area", "foot**2"),
    Unit("W", ("W", "watt", "watts"), "power", "watt"),
    Unit("kW", ("kW", "kilowatt", "kilowatts"), "power", "kilowatt"),
    Unit(
        "hp",
        ("hp", "bhp", "brake hp", "horsepower", "mhp"),
        "power",
        "foot*pound*standard_gravity*550/second",
    ),
    Unit("rpm", ("rpm", "r/min", "rev/min", "1/min"), "rotational speed", "revolution/minute"),
    Unit("Hz", ("Hz", "hertz"), "frequency", "hertz"),
    Unit("1", ("1", "fraction", "ratio"), "ratio", "1"),
    Unit("%", ("%", "percent", "per cent", "pct", "%RH", "% rh"), "ratio", "1/100"),
    Unit("mol/mol", ("mol/mol",), "mole fraction", "1"),
    Unit("ppm", ("ppm", "ppmv", "parts per million"), "mole fraction", "1/1000000"),
    Unit("A", ("A", "amp", "amps", "ampere", "amperes"), "current", "ampere"),
    Unit("V", ("V", "volt", "volts", "Vac", "V AC"), "voltage", "volt"),
    Unit("kg/m3", ("kg/m³", "kg/m^3"), "density", "kilogram/meter**3"),
    Unit("lb/ft3", ("lb/ft³", "lb/ft^3", "lb/cu ft", "lbm/ft3", "pcf"), "density", "pound/foot**3"),
    Unit("kg/kg", ("kg/kg", "kg/kg da", "lb/lb", "lb/lb da"), "humidity ratio", "1"),
    Unit("g/kg", ("g/kg", "g/kg da"), "humidity ratio", "1/1000"),
    Unit("gr/lb", ("gr/lb", "gr/lb da", "grains/lb"), "humidity ratio", "1/7000"),
    Unit("J/kg", ("J/kg", "J/kg da"), "specific enthalpy", "joule/kilogram"),
    Unit("kJ/kg", ("kJ/kg", "kJ/kg da"), "specific enthalpy", "kilojoule/kilogram"),
    Unit("Btu/lb", ("Btu/lb", "Btu/lb da"), "specific enthalpy", "joule*2326/kilogram"),
    Unit(
        "m3/s/Pa^0.5",
        ("m³/s per √Pa", "m3/s/Pa^0.5", "m³/s/√Pa"),
        "station factor",
        "meter**3/second/pascal**0.5",
    ),
    Unit(
        "m3/h/Pa^0.5",
        ("m³/h per √Pa", "m3/h/Pa^0.5", "m³/h/√Pa"),
        "station factor",
        "meter**3/hour/pascal**0.5",
    ),
    Unit("L/s/Pa^0.5", ("L/s per √Pa", "l/s/Pa^0.5", "L/s/√Pa"), "station factor", "liter/second/pascal**0.5"),
    Unit(
        "cfm/in_wc^0.5",
        ("cfm per √in. w.c.", "cfm/inwc^0.5", "cfm/inwg^0.5", "cfm/√in wc", "cfm/√in wg"),
        "station factor",
        f"{_CFM}/pascal**0.5",
        -0.5,
    ),
    Unit("W/(m3/s)", ("W/(m³/s)", "W/(m3/s)", "W per m³/s"), "specific fan power", "watt*second/meter**3"),
    Unit("W/(L/s)", ("W/(L/s)", "W per L/s"), "specific fan power", "watt*second/liter"),
    Unit("W/cfm", ("W/cfm", "W per cfm"), "specific fan power", f"watt/({_CFM})"),
    Unit("m3/s/m2", ("m³/s per m²", "m3/s/m2", "m³/(s·m²)"), "airflow per area", "meter**3/second/meter**2"),
    Unit("L/s/m2", ("L/s per m²", "L/s/m2", "L/s·m2", "L/(s·m²)"), "airflow per area", "liter/second/meter**2"),
    Unit("cfm/ft2", ("cfm/ft²", "cfm/ft2", "cfm per sq ft", "cfm/sf"), "airflow per area", f"{_CFM}/foot**2"),
    Unit("kg", ("kg", "kilogram", "kilograms"), "mass", "kilogram"),
    Unit("lb", ("lb", "lbm", "lbs", "pound", "pounds"), "mass", "pound"),
    Unit("kg/s", ("kg/s", "kg/sec"), "mass flow", "kilogram/second"),
    Unit("lb/h", ("lb/h", "lb/hr", "pph"), "mass flow", "pound/hour"),
    Unit("s", ("s", "sec", "second", "seconds"), "time", "second"),
    Unit("min", ("min", "mins", "minute", "minutes"), "time", "minute"),
    Unit("h", ("h", "hr", "hrs", "hour", "hours"), "time", "hour"),
)
