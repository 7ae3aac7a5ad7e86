"""The words of equipment schedules in print, and what each stands for. Common practice, no source.

Two lists: whole headings of text columns, and words and phrases that together tell what a number is. A word that is
in neither makes a heading "not understood", which a person sees and can settle; nothing is guessed from half of one.
"""

import re
import unicodedata
from functools import lru_cache

from portfolio.schedules.understanding.memory import remembered

SUPPLY, RETURN, OUTDOOR, EXHAUST = "supply", "return", "outdoor", "exhaust"
FOREIGN = "foreign"
FILLER = "filler"

_TAG_STRONG = """
TAG|TAGS|TAG NO|TAG NUMBER|TAG ID|MARK|MARK NO|PLAN MARK|UNIT MARK|UNIT TAG|UNIT NO|UNIT NUMBER|UNIT ID|UNIT NAME
EQUIP NO|EQUIPMENT NO|EQUIP TAG|EQUIPMENT TAG|EQUIP ID|EQUIPMENT ID|EQUIPMENT NUMBER|EQUIPMENT MARK|DESIGNATION
UNIT DESIGNATION|EQUIPMENT DESIGNATION|SYMBOL|UNIT SYMBOL|FAN NO|FAN TAG|FAN MARK|ERV NO|ERV TAG|HRV NO|AHU NO
DOAS NO|EF NO|ITEM TAG|ASSET TAG|PLAN CODE|UNIT REF|EQUIPMENT REFERENCE|UNIT REFERENCE|TAG / MARK|MARK / TAG
"""
_TAG_WEAK = "UNIT|UNITS|NO|ITEM|ITEM NO|EQUIPMENT|REF|REFERENCE|NAME|ID|SYSTEM|SYSTEM NO|IDENTIFICATION|CODE|FAN"
_WHOLE = {
    "type": "TYPE|UNIT TYPE|TYPE MARK|TYPE NO|TYPE ID|TYPE CODE",
    "quantity": "QTY|QUANTITY|NO OF UNITS|NUMBER OF UNITS|NUMBER REQUIRED|NO REQD|QTY EA|COUNT|UNIT QTY",
    "kind": "DESCRIPTION|EQUIPMENT TYPE|SYSTEM TYPE|KIND|UNIT DESCRIPTION|EQUIPMENT DESCRIPTION|UNIT KIND|KIND OF UNIT"
    "|EQUIPMENT KIND",
    "location": "LOCATION|UNIT LOCATION|EQUIPMENT LOCATION|LOCATED|MOUNTING LOCATION|LEVEL|FLOOR|ROOM LOCATION",
    "serves": "SERVES|SERVICE|SERVING|AREA SERVED|AREAS SERVED|SPACE SERVED|SPACES SERVED|ROOM SERVED|ROOMS SERVED"
    "|SYSTEM SERVED|ZONE SERVED|SERVED|ROOM|SPACE|AREA",
    "building": "BUILDING|BLDG|BUILDING NO|BLDG NO|BUILDING NAME|BLDG NAME|BLOCK|WING",
    "manufacturer": "MFR|MFG|MFGR|MANUF|MANUFACTURER|MAKE|MAKER",
    "model": "MODEL|MODEL NO|MODEL NUMBER|CATALOG NO|CAT NO",
    "maker_and_model": "MFR / MODEL|MANUFACTURER / MODEL|MAKE / MODEL|MFR MODEL|MANUFACTURER AND MODEL|MFR & MODEL"
    "|BASIS OF DESIGN|MANUFACTURER & MODEL|MFR / MODEL NO|MAKE & MODEL|MANUFACTURER / MODEL NO|MFG / MODEL",
    "remarks": "REMARKS|REMARK|COMMENTS|COMMENT|REMARKS / NOTES|NOTES / REMARKS|REMARKS & NOTES|NOTES & REMARKS",
    "notes": "NOTES|NOTE|NOTE NO|NOTES NO|SEE NOTES|SEE NOTE|NOTE NUMBER|KEYNOTES|FOOTNOTES|FOOTNOTE",
    "unit.options": "OPTIONS|UNIT OPTIONS|FACTORY OPTIONS|EQUIPMENT OPTIONS|OPTIONS INCLUDED|OPTIONS / ACCESSORIES"
    "|OPTIONS & ACCESSORIES|OPTIONS AND ACCESSORIES|ACCESSORIES / OPTIONS|ACCESSORIES & OPTIONS",
    "unit.field_sensors": "SENSORS|FIELD SENSORS|FIELD DEVICES|FIELD INSTALLED SENSORS|FIELD MOUNTED SENSORS"
    "|UNIT SENSORS|SENSORS AND SAFETIES|SENSORS / SAFETIES|SENSORS & SAFETIES|CONTROL SENSORS",
    "scope": "SCOPE|STATUS|UNIT STATUS|NEW / EXISTING|EXISTING / NEW|REVISION STATUS",
}

# phrases that together say what a number is; longer phrases are tried first
_PHRASES = {
    SUPPLY: "SUPPLY|SUPP|SUP|SA|SPLY|SUPPLIED",
    RETURN: "RETURN|RET|RA|EXTRACT|EXTRACT AIR|ETA",
    OUTDOOR: "OUTDOOR|OUTSIDE|OA|OSA|ODA|FRESH|OUT DOOR|OUTDOORS|VENTILATION AIR|INTAKE",
    EXHAUST: "EXHAUST|EXH|EA|EHA|RELIEF|EXHST|EXHAUSTED",
    "airflow": "AIRFLOW|AIR FLOW|FLOW|FLOWRATE|FLOW RATE|AIR QUANTITY|AIR QTY|AIR VOLUME|VOLUME|AIR VOL|VOL|AIRFLOWS"
    "|AIRFLOW RATE|AIR FLOWRATE|AIR FLOW RATE|CFM|SCFM|ACFM|LPS|CMH|AIR QUANTITIES|AIR VOLUMES|VOLUME FLOW"
    "|QUANTITY|QTY",
    "esp": "ESP|EXTERNAL STATIC PRESSURE|EXT STATIC PRESSURE|EXTERNAL STATIC|EXT STATIC|EXT SP|EXTERNAL SP"
    "|EXT STATIC PRESS|EXTERNAL PRESSURE|AVAILABLE STATIC PRESSURE|EXT PRESSURE|EXTERNAL STATIC PRESS|EXT STAT PRESS",
    "tsp": "TSP|TOTAL STATIC PRESSURE|TOTAL STATIC|TOTAL SP|TOTAL STATIC PRESS|TOT STATIC PRESSURE|TOT SP",
    "sp": "SP|STATIC PRESSURE|STATIC PRESS|STATIC|STAT PRESS|FAN STATIC PRESSURE",
    "pressure_drop": "PRESSURE DROP|PRESS DROP|PD|APD|AIR PRESSURE DROP|AIR PD|DELTA P|DP",
    "motor": "MOTOR|MOTORS|MTR|FAN MOTOR",
    "power": "HP|KW|POWER|HORSEPOWER|MHP|WATTS|MOTOR SIZE|MOTOR HP|MOTOR POWER|MOTOR KW",
    "brake": "BHP|BRAKE|BRAKE HP|BRAKE HORSEPOWER|BKW|SHAFT POWER|ABSORBED POWER",
    "speed": "RPM|SPEED|FAN SPEED|FAN RPM",
    "amps": "FLA|FLC|AMPS|AMP|AMPERES|FULL LOAD AMPS|FULL LOAD AMPERES|FULL LOAD CURRENT|NAMEPLATE AMPS|CURRENT"
    "|NAMEPLATE FLA|RATED CURRENT|MOTOR FLA|FULL LOAD",
    "mca": "MCA|MINIMUM CIRCUIT AMPACITY|MIN CIRCUIT AMPACITY|MIN CIRCUIT AMPS|MINIMUM CIRCUIT AMPS|CIRCUIT AMPACITY",
    "mocp": "MOCP|MOP|MAX FUSE|MAX OVERCURRENT PROTECTION|MAXIMUM OVERCURRENT PROTECTION|MFS|MAX FUSE SIZE|MAX OCP",
    "volts": "V|VOLT|VOLTS|VOLTAGE|VAC",
    "phase": "PH|PHASE|PHASES|Ø|Φ|PHS",
    "hertz": "HZ|HERTZ|FREQ|FREQUENCY|CYCLE|CYCLES",
    "electrical": "ELECTRICAL|ELECTRIC|ELEC|POWER SUPPLY|ELECTRICAL DATA|ELECTRICAL SERVICE|ELECTRICAL CHARACTERISTICS"
    "|ELEC DATA|ELECTRICAL REQUIREMENTS|ELECTRICAL SUPPLY|UNIT POWER",
    "drive": "DRIVE|DRIVE TYPE|DRIVETYPE|TYPE DRIVE|TYPE OF DRIVE|FAN DRIVE|DRIVE METHOD|BELT / DIRECT|DIRECT / BELT",
    "motor_type": "MOTOR TYPE|TYPE OF MOTOR|MTR TYPE",
    "variable_speed": "VFD|VSD|VFD Y / N|VARIABLE FREQUENCY DRIVE|VARIABLE SPEED DRIVE|VFD REQD|VARIABLE SPEED",
    "service_factor": "SF|SERVICE FACTOR|MOTOR SF",
    "motors": "NO OF MOTORS|NUMBER OF MOTORS|MOTOR QTY|NO OF FANS|NUMBER OF FANS|FAN QTY|QTY OF FANS|QTY MOTORS",
    "fan": "FAN|FANS|BLOWER|BLOWERS",
    "sensible": "SENSIBLE|SENS",
    "latent": "LATENT",
    "lat": "LAT",
    "total": "TOTAL|TOT|ENTHALPY",
    "effectiveness": "EFFECTIVENESS|EFF|EFFICIENCY|EFFECT|RECOVERY EFFECTIVENESS|RECOVERY EFFICIENCY",
    "exchanger": "WHEEL|CORE|EXCHANGER|HEAT EXCHANGER|ENERGY RECOVERY|HEAT RECOVERY|ENERGY WHEEL|ENTHALPY WHEEL"
    "|ENTHALPY CORE|RECOVERY|ENERGY RECOVERY WHEEL|HEAT WHEEL|PLATE|ERV|HRV|ENERGY EXCHANGER|ENERGY RECOVERY CORE",
    "eatr": "EATR|EXHAUST AIR TRANSFER RATIO|EXHAUST AIR TRANSFER",
    "oacf": "OACF|OUTDOOR AIR CORRECTION FACTOR",
    "summer": "SUMMER|COOLING|CLG",
    "winter": "WINTER|HEATING|HTG",
    "max": "MAX|MAXIMUM",
    "min": "MIN|MINIMUM",
    FILLER: "AIR|DESIGN|RATED|NOMINAL|SCHEDULED|UNIT|DATA|PERFORMANCE|EACH|THE|OF|AT|PER|SIDE|SECTION|NAMEPLATE|RATE"
    "|RATING|RATINGS|CONDITIONS|STANDARD|STD|ACTUAL|AIRSTREAM|STREAM|/|AND|&|CAPACITIES|REQUIRED|REQD|GENERAL"
    "|INFORMATION|INFO|CHARACTERISTICS|FOR|IN|PRESSURE|PRESS|REQUIREMENTS|DISCHARGE",
    FOREIGN: "FILTER|FILTERS|PREFILTER|COIL|COILS|TEMP|TEMPERATURE|TEMPS|EAT|EDB|EWB|LDB|LWB|DB|WB|GPM|MBH|TONS|TON|BTU"
    "|BTUH|STEAM|GAS|WATER|EWT|LWT|SOUND|SONES|DBA|NC|WEIGHT|WT|LBS|KG|DIMENSIONS|LENGTH|WIDTH|HEIGHT|SIZE|DAMPER"
    "|DAMPERS|REFRIGERANT|COMPRESSOR|COMPRESSORS|CONDENSER|PUMP|HUMIDIFIER|PREHEAT|REHEAT|HEATER|MERV|CURB|DISCONNECT"
    "|STARTER|SCCR|PEOPLE|OCCUPANTS|HOOD|LOUVER|DUCT|CONNECTION|CAPACITY|CAP|STAGES|EER|SEER|COP|IPLV|ROWS|FPI|FPM"
    "|VELOCITY|SETPOINT|CONTROL|CONTROLS|WHEEL DIAMETER|WHEEL SIZE|FAN CLASS|CLASS|DIA|DIAMETER|HUMIDITY|RH|ENTERING"
    "|LEAVING|ROOF|DOOR|ACCESSORIES|OPTIONS|INLET|OUTLET|TIP|RLA|LRA|MOTOR EFFICIENCY|FAN EFFICIENCY|MOTOR EFF"
    "|FRAME|ENCLOSURE|AFUE|FUEL|INPUT|OUTPUT|FLUE|SENSOR",
}


def _table(source: dict[str, str]) -> dict[tuple[str, ...], str]:
    return {tuple(words.split()): name for name, text in source.items() for words in text.split("|")}


_CONCEPTS = _table(_PHRASES)
_LONGEST = max(len(words) for words in _CONCEPTS)
WHOLE_HEADINGS: dict[str, str] = {words: meaning for meaning, text in _WHOLE.items() for words in text.split("|")} | {
    words.strip(): "tag" for words in _TAG_STRONG.replace("\n", "|").split("|") if words.strip()
}
WEAK_TAG_HEADINGS = frozenset(_TAG_WEAK.split("|"))

_DOTTED = re.compile(r"(?<![A-Z0-9])(?:[A-Z]\.\s?)+(?:[A-Z](?![A-Z0-9])\.?)")
_AIR_SLASH = re.compile(r"(?<![A-Z/])([SROE])\s?/\s?A(?![A-Z/])")
_TOKEN = re.compile(r"[A-Z0-9ØΦ]+|[/#&%]")
_DELTA_P = re.compile(r"[Δ∆]\s?P\b")


@remembered(8192)
def tokens_of(text: str) -> tuple[str, ...]:
    """Capital words of a heading, dotted abbreviations closed up.

    >>> tokens_of("E.S.P. (in. w.g.)"), tokens_of("Unit No."), tokens_of("O/A")
    (('ESP', 'IN', 'WG'), ('UNIT', 'NO'), ('OA',))
    """
    plain = unicodedata.normalize("NFKC", text).upper()
    plain = _DELTA_P.sub("DELTA P", plain)
    plain = _DOTTED.sub(lambda match: re.sub(r"[.\s]", "", match.group()) + " ", plain)
    plain = _AIR_SLASH.sub(r"\1A", plain)
    return tuple("NO" if token == "#" else token for token in _TOKEN.findall(plain))  # noqa: S105


@lru_cache(maxsize=8192)
def concepts_of(tokens: tuple[str, ...]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The concepts that the words stand for, in order, and the words that stand for none.

    >>> concepts_of(("SUPPLY", "FAN", "EXT", "STATIC", "PRESSURE", "XYZ"))
    (('supply', 'fan', 'esp'), ('XYZ',))
    """
    found: list[str] = []
    unknown: list[str] = []
    place = 0
    while place < len(tokens):
        for length in range(min(_LONGEST, len(tokens) - place), 0, -1):
            concept = _CONCEPTS.get(tokens[place : place + length])
            if concept is not None:
                if concept != FILLER:
                    found.append(concept)
                break
        else:
            unknown.append(tokens[place])
            length = 1
        place += length
    return tuple(found), tuple(unknown)


@remembered(8192)
def whole_heading(text: str) -> str:
    """The meaning of a text column's whole heading; '' where it is none.

    >>> whole_heading("MFR. / MODEL"), whole_heading("Unit no."), whole_heading("CFM")
    ('maker_and_model', 'tag', '')
    """
    words = " ".join(tokens_of(text))
    return WHOLE_HEADINGS.get(words, "")


@remembered(8192)
def is_weak_tag_heading(text: str) -> bool:
    """'UNIT', 'NO.', 'ITEM': a tag's heading only in the company of other headings."""
    return " ".join(tokens_of(text)) in WEAK_TAG_HEADINGS
