"""Circuit families, each a parametric circuit text of ours drawn from a seed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

__all__ = ["FAMILIES", "Family"]

Draw = np.random.Generator


@dataclass(frozen=True, slots=True)
class Family:
    """A family: its text for a draw, and twins (the splice nobody can reach, and its two wires)."""

    name: str
    text: Callable[[Draw], str]
    twins: tuple[str, tuple[str, str]] | None = None


def _metres(rng: Draw, low: float, high: float) -> str:
    return f"{rng.uniform(low, high):.1f} m"


def _volts(rng: Draw) -> int:
    return int(rng.choice([12, 24]))


def _head(title: str, volts: int, places: Mapping[str, int]) -> str:
    rows = "\n".join(f"  {name}: {{reach: {minutes} min}}" for name, minutes in places.items())
    return f"loomwright: 1\ntitle: {title}\nsystem: {volts} V\nplaces:\n{rows}\n"


_USUAL = {"battery box": 3, "cab panel": 1, "rear": 6}


def _plain_load(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 3, 9)
    watts = int(rng.choice([10, 21, 55]))
    return _head("Plain load", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 10 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: lamp switch}}
  SP9: {{kind: splice, place: rear}}
  X1: {{kind: connector, ways: 1, place: rear}}
  H1: {{kind: lamp, power: {watts} W, place: rear}}
  E1: {{kind: earth, place: rear}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 1.5 m, RD]
  - [W2, F1.2, S1.1, 1.5 mm2, 0.6 m, RD]
  - [W3, S1.2, SP9, 1 mm2, {loom}, GY]
  - [W4, SP9, X1.1a, 1 mm2, 1 m, GY]
  - [W5, X1.1b, H1.1, 1 mm2, 0.5 m, GY]
  - [W6, H1.2, E1, 1 mm2, 0.5 m, BN]
states:
  at rest: {{}}
  lit: {{lamp switch: on}}
should:
  at rest: {{H1: off}}
  lit: {{H1: on}}
"""


def _relay(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 2, 8)
    watts = int(rng.choice([60, 110, 150]))
    return _head("Relay and heater", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 25 A, place: battery box}}
  F2: {{kind: fuse, rating: 5 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: heat switch}}
  K1: {{kind: relay, place: cab panel}}
  SP9: {{kind: splice, place: rear}}
  R1: {{kind: heater, power: {watts} W, place: rear}}
  E1: {{kind: earth, place: rear}}
  E2: {{kind: earth, place: cab panel}}
wires:
  - [W1, BAT.+, F1.1, 6 mm2, 0.5 m, RD]
  - [W2, F1.2, K1.30, 4 mm2, 3 m, RD]
  - [W3, BAT.+, F2.1, 2.5 mm2, 3 m, RD]
  - [W4, F2.2, S1.1, 1 mm2, 0.5 m, GY]
  - [W5, S1.2, K1.86, 1 mm2, 0.6 m, GY]
  - [W6, K1.85, E2, 1 mm2, 0.4 m, BN]
  - [W7, K1.87, SP9, 4 mm2, {loom}, BK]
  - [W8, SP9, R1.1, 4 mm2, 1 m, BK]
  - [W9, R1.2, E1, 4 mm2, 0.6 m, BN]
states:
  at rest: {{}}
  heating: {{heat switch: on}}
should:
  at rest: {{R1: off}}
  heating: {{R1: on}}
"""


def _shared_earth(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 3, 9)
    return _head("Shared earth", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 10 A, place: cab panel}}
  F2: {{kind: fuse, rating: 15 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: lamp switch}}
  S2: {{kind: switch, place: cab panel, closed when: pump switch}}
  H1: {{kind: lamp, power: 21 W, place: rear}}
  H2: {{kind: lamp, power: 10 W, place: rear}}
  M1: {{kind: motor, current: {rng.uniform(3, 7):.1f} A, place: rear}}
  SP1: {{kind: splice, place: rear}}
  SP2: {{kind: splice, place: rear}}
  E1: {{kind: earth, place: rear}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 2 m, RD]
  - [W2, BAT.+, F2.1, 4 mm2, 2 m, RD]
  - [W3, F1.2, S1.1, 1.5 mm2, 0.5 m, RD]
  - [W4, F2.2, S2.1, 2.5 mm2, 0.5 m, RD]
  - [W5, S1.2, SP1, 1.5 mm2, {loom}, GY]
  - [W6, SP1, H1.1, 1 mm2, 0.6 m, GY]
  - [W7, SP1, H2.1, 1 mm2, 0.9 m, GY]
  - [W8, S2.2, M1.1, 2.5 mm2, {loom}, BU]
  - [W9, H1.2, SP2, 1 mm2, 0.5 m, BN]
  - [W10, H2.2, SP2, 1 mm2, 0.7 m, BN]
  - [W11, M1.2, SP2, 2.5 mm2, 0.6 m, BN]
  - [W12, SP2, E1, 2.5 mm2, 0.4 m, BN]
states:
  at rest: {{}}
  lit: {{lamp switch: on}}
  pumping: {{pump switch: on}}
should:
  at rest: {{H1: off, H2: off, M1: off}}
  lit: {{H1: on, H2: on, M1: off}}
  pumping: {{M1: on, H1: off}}
"""


def _switch_signal(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 4, 10)
    return _head("Switch signal to a controller", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 10 A, place: cab panel}}
  F2: {{kind: fuse, rating: 5 A, place: cab panel}}
  S1: {{kind: switch, place: rear, closed when: door shut}}
  X1: {{kind: connector, ways: 2, place: rear}}
  H1: {{kind: lamp, power: 3 W, place: cab panel}}
  E1: {{kind: earth, place: cab panel}}
  ECU:
    kind: controller
    place: cab panel
    supply: 1
    earth: 2
    inputs: {{shut: {{pin: 11, pull: down}}}}
    outputs: {{warn: {{pin: 31, drives: high side, limit: 2 A, when: not shut}}}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 2 m, RD]
  - [W2, BAT.+, F2.1, 4 mm2, 2 m, RD]
  - [W3, F1.2, ECU.1, 1.5 mm2, 0.8 m, RD]
  - [W4, F2.2, X1.1a, 0.75 mm2, {loom}, GY]
  - [W5, X1.1b, S1.1, 0.75 mm2, 0.8 m, GY]
  - [W6, S1.2, X1.2b, 0.75 mm2, 0.8 m, YE]
  - [W7, X1.2a, ECU.11, 0.75 mm2, {loom}, YE]
  - [W8, ECU.2, E1, 1.5 mm2, 0.5 m, BN]
  - [W9, ECU.31, H1.1, 0.75 mm2, 1 m, GN]
  - [W10, H1.2, E1, 0.75 mm2, 0.6 m, BN]
states:
  open: {{}}
  shut: {{door shut: yes}}
should:
  open: {{H1: on}}
  shut: {{H1: off}}
"""


def _controller_output(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 3, 9)
    return _head("Controller output", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 10 A, place: cab panel}}
  F2: {{kind: fuse, rating: 5 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: lift button}}
  X1: {{kind: connector, ways: 2, place: rear}}
  Y1: {{kind: solenoid, resistance: {volts * volts / rng.uniform(15, 30):.0f} ohm, place: rear}}
  E1: {{kind: earth, place: cab panel}}
  E2: {{kind: earth, place: rear}}
  ECU:
    kind: controller
    place: cab panel
    supply: 1
    earth: 2
    inputs: {{lift: {{pin: 11, pull: down}}}}
    outputs: {{valve: {{pin: 31, drives: high side, limit: 5 A, when: lift}}}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 2 m, RD]
  - [W2, BAT.+, F2.1, 4 mm2, 2 m, RD]
  - [W3, F1.2, ECU.1, 1.5 mm2, 0.8 m, RD]
  - [W4, F2.2, S1.1, 0.75 mm2, 1 m, GY]
  - [W5, S1.2, ECU.11, 0.75 mm2, 1 m, YE]
  - [W6, ECU.2, E1, 1.5 mm2, 0.5 m, BN]
  - [W7, ECU.31, X1.1a, 1.5 mm2, {loom}, BU]
  - [W8, X1.1b, Y1.1, 1.5 mm2, 0.7 m, BU]
  - [W9, Y1.2, X1.2b, 1.5 mm2, 0.7 m, BN]
  - [W10, X1.2a, E2, 1.5 mm2, 0.5 m, BN]
states:
  at rest: {{}}
  lifting: {{lift button: on}}
should:
  at rest: {{Y1: off}}
  lifting: {{Y1: on}}
"""


def _motor_feed(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 2, 6)
    return _head("Motor feed", volts, _USUAL) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 40 A, place: battery box}}
  F2: {{kind: fuse, rating: 5 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: fan switch}}
  K1: {{kind: relay, place: cab panel}}
  SP9: {{kind: splice, place: rear}}
  M1: {{kind: motor, current: {rng.uniform(8, 20):.0f} A, place: rear}}
  E1: {{kind: earth, place: rear}}
  E2: {{kind: earth, place: cab panel}}
wires:
  - [W1, BAT.+, F1.1, 10 mm2, 0.5 m, RD]
  - [W2, F1.2, K1.30, 6 mm2, 2 m, RD]
  - [W3, BAT.+, F2.1, 2.5 mm2, 2 m, RD]
  - [W4, F2.2, S1.1, 1 mm2, 0.5 m, GY]
  - [W5, S1.2, K1.86, 1 mm2, 0.6 m, GY]
  - [W6, K1.85, E2, 1 mm2, 0.4 m, BN]
  - [W7, K1.87, SP9, 6 mm2, {loom}, BK]
  - [W8, SP9, M1.1, 6 mm2, 0.8 m, BK]
  - [W9, M1.2, E1, 6 mm2, 0.6 m, BN]
states:
  at rest: {{}}
  running: {{fan switch: on}}
should:
  at rest: {{M1: off}}
  running: {{M1: on}}
"""


def _twin_lamps(rng: Draw) -> str:
    volts, loom = _volts(rng), _metres(rng, 2, 5)
    watts = int(rng.choice([21, 55, 70]))
    return _head("Twin lamps", volts, {"battery box": 3, "cab panel": 1, "left": 3, "right": 3}
                 ) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 20 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: lamp switch}}
  SP1: {{kind: splice, place: cab panel}}
  H1: {{kind: lamp, power: {watts} W, place: left}}
  H2: {{kind: lamp, power: {watts} W, place: right}}
  E1: {{kind: earth, place: left}}
  E2: {{kind: earth, place: right}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 2 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 0.5 m, RD]
  - [W3, S1.2, SP1, 2.5 mm2, 0.5 m, WH]
  - [W4, SP1, H1.1, 1.5 mm2, {loom}, WH]
  - [W5, SP1, H2.1, 1.5 mm2, {loom}, WH]
  - [W6, H1.2, E1, 1.5 mm2, 0.5 m, BN]
  - [W7, H2.2, E2, 1.5 mm2, 0.5 m, BN]
states:
  at rest: {{}}
  lit: {{lamp switch: on}}
should:
  at rest: {{H1: off, H2: off}}
  lit: {{H1: on, H2: on}}
"""


def _trailer(rng: Draw) -> str:
    loom = _metres(rng, 6, 12)
    return _head("Trailer pair", 24, {"battery box": 3, "cab panel": 1, "plug": 2, "trailer": 5}
                 ) + f"""parts:
  BAT: {{kind: battery, place: battery box}}
  F1: {{kind: fuse, rating: 10 A, place: cab panel}}
  F2: {{kind: fuse, rating: 15 A, place: cab panel}}
  S1: {{kind: switch, place: cab panel, closed when: side lamps}}
  S2: {{kind: switch, place: cab panel, closed when: brake pedal}}
  X1: {{kind: connector, ways: 3, place: plug}}
  SP1: {{kind: splice, place: trailer}}
  SP2: {{kind: splice, place: trailer}}
  SP3: {{kind: splice, place: trailer}}
  H1: {{kind: lamp, power: 10 W, place: trailer}}
  H2: {{kind: lamp, power: 10 W, place: trailer}}
  H3: {{kind: lamp, power: 21 W, place: trailer}}
  H4: {{kind: lamp, power: 21 W, place: trailer}}
  E1: {{kind: earth, place: plug}}
wires:
  - [W1, BAT.+, F1.1, 4 mm2, 2 m, RD]
  - [W2, BAT.+, F2.1, 4 mm2, 2 m, RD]
  - [W3, F1.2, S1.1, 1.5 mm2, 0.5 m, GY]
  - [W4, F2.2, S2.1, 1.5 mm2, 0.8 m, BK/RD]
  - [W5, S1.2, X1.1a, 1.5 mm2, {loom}, GY]
  - [W6, S2.2, X1.2a, 1.5 mm2, {loom}, BK/RD]
  - [W7, X1.1b, SP1, 1.5 mm2, 5 m, GY]
  - [W8, X1.2b, SP2, 1.5 mm2, 5 m, BK/RD]
  - [W9, SP1, H1.1, 1 mm2, 0.5 m, GY]
  - [W10, SP1, H2.1, 1 mm2, 1.5 m, GY]
  - [W11, SP2, H3.1, 1 mm2, 0.5 m, BK/RD]
  - [W12, SP2, H4.1, 1 mm2, 1.5 m, BK/RD]
  - [W13, H1.2, SP3, 1 mm2, 0.4 m, WH]
  - [W14, H2.2, SP3, 1 mm2, 1.4 m, WH]
  - [W15, H3.2, SP3, 1 mm2, 0.4 m, WH]
  - [W16, H4.2, SP3, 1 mm2, 1.4 m, WH]
  - [W17, SP3, X1.3b, 2.5 mm2, 5 m, WH]
  - [W18, X1.3a, E1, 2.5 mm2, 0.5 m, BN]
states:
  at rest: {{}}
  side lamps: {{side lamps: on}}
  braking: {{brake pedal: on}}
should:
  at rest: {{H1: off, H3: off}}
  side lamps: {{H1: on, H2: on, H3: off, H4: off}}
  braking: {{H1: off, H2: off, H3: on, H4: on}}
"""


FAMILIES: tuple[Family, ...] = (
    Family("plain load", _plain_load, ("SP9", ("W3", "W4"))),
    Family("relay", _relay, ("SP9", ("W7", "W8"))),
    Family("shared earth", _shared_earth),
    Family("switch signal", _switch_signal),
    Family("controller output", _controller_output),
    Family("motor feed", _motor_feed, ("SP9", ("W7", "W8"))),
    Family("twin lamps", _twin_lamps),
    Family("trailer pair", _trailer),
)
