"""The prediction table: every row of the belief against every check, computed once per plant."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.records import Settings
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import NO_FAULT, Check, Hypothesis, Plant, Prediction, Repair

__all__ = [
    "NO_REPAIR",
    "UNMODELLED",
    "CheckModel",
    "StickyRows",
    "Table",
    "borrowed_model",
    "build_table",
    "fault_rows_of",
    "growth_of",
    "joined_models",
    "models_of",
    "scaled",
    "unscaled",
]

Array = NDArray[np.float64]
Floats = NDArray[np.float32]
Key = TypeVar("Key")
Kept = TypeVar("Kept")

UNMODELLED = Hypothesis("unmodelled", "", "unmodelled", "?", 1.0)
NO_REPAIR = ""  # repair class of the no-fault row

# A check whose span covers more decades than this is compared on a logarithmic scale: a meter
# between 0.1 ohm and open circuit is right to a share of the value, not to a share of the span.
_LOG_SCALE_RATIO = 1e5
_DERIVED = 2  # tables kept of each sort made from one; each may hold a copy of all predictions
_LEFT = 16  # sets of repairs of which a table remembers what they leave; a job has a few
_SMALLEST_SD_SHARE = 1e-9  # of the span, so that an exact model still has a density


@dataclass(frozen=True, eq=False)
class CheckModel:
    """Predictions of one check for every row, instrument included, on the scale of comparison.

    `mean`, `sd`: (n_nuisance, n_rows), NaN where the row cannot say; `levels`: None for a number,
    otherwise (n_nuisance, n_rows, n_levels). `raw` is the mean in the check's own unit. `leaning`
    (n_rows,), in that unit, is the part of the spread that goes with how severe a row's fault is,
    signed (None: not told).
    """

    check: Check
    raw: Array
    mean: Array
    sd: Array
    levels: Array | None = None
    leaning: Array | None = None

    @property
    def span(self) -> tuple[float, float]:
        """Return the span on the scale of comparison."""
        low, high = self.check.span
        return float(scaled(self.check, low)), float(scaled(self.check, high))

    def numbers(self) -> tuple[Array, Array, Array]:
        """Return raw, mean and sd."""
        return self.raw, self.mean, self.sd


class LazyModel(CheckModel):
    """Predictions of a number that are worked out when asked for: most checks are never taken."""

    def __init__(self, check: Check, make: Callable[[], tuple[Array, Array, Array]],
                 leaning: Array | None) -> None:
        """Keep what makes raw, mean and sd."""
        for name, value in (("check", check), ("levels", None), ("leaning", leaning),
                            ("_make", make)):
            object.__setattr__(self, name, value)

    _make: Callable[[], tuple[Array, Array, Array]]

    @functools.cached_property
    def _kept(self) -> tuple[Array, Array, Array]:
        numbers = self._make()
        for array in numbers:
            array.setflags(write=False)
        return numbers

    def numbers(self) -> tuple[Array, Array, Array]:
        """Return raw, mean and sd, kept only where they were asked for one by one."""
        return self.__dict__.get("_kept") or self._make()

    @property
    def raw(self) -> Array:
        """Return the means in the check's own unit."""
        return self._kept[0]

    @property
    def mean(self) -> Array:
        """Return the means on the scale of comparison."""
        return self._kept[1]

    @property
    def sd(self) -> Array:
        """Return the spreads on the scale of comparison."""
        return self._kept[2]


def _is_log(check: Check) -> bool:
    low, high = check.span
    return low >= 0.0 and high > _LOG_SCALE_RATIO * max(check.resolution, 1e-12)


def _log_offset(check: Check) -> float:
    return 5.0 * max(check.resolution, 1e-6)


def scaled(check: Check, value: Array | float) -> Array:
    """Return a value on the scale on which readings of this check are compared.

    Linear, except where the span covers more than five decades of resolution: there the decimal
    logarithm of the value plus five resolutions.
    """
    values = np.asarray(value, dtype=float)
    if not _is_log(check):
        return values
    result: Array = np.log10(np.maximum(values, 0.0) + _log_offset(check))
    return result


def growth_of(check: Check, raw: Array) -> Array:
    """Return by how much a reading on the scale of comparison grows for each unit, at `raw`."""
    if not _is_log(check):
        return np.ones_like(raw)
    found: Array = 1.0 / ((np.maximum(raw, 0.0) + _log_offset(check)) * np.log(10.0))
    return found


def unscaled(check: Check, value: Array | float) -> Array:
    """Return in the check's own unit what `scaled` put on the scale of comparison."""
    values = np.asarray(value, dtype=float)
    if not _is_log(check):
        return values
    found: Array = np.maximum(10.0**values - _log_offset(check), 0.0)
    return found


def _instrument_sd(check: Check, mean: Array, variance: Array, sd: Array) -> None:
    """Write model spread and instrument together: rounding is uniform, accuracy one sigma.

    The model's variance is used up.
    """
    read = check.accuracy * mean
    read *= read
    variance += check.resolution**2 / 12.0
    variance += read
    low, high = check.span
    np.maximum(variance, (_SMALLEST_SD_SHARE * (high - low)) ** 2, out=variance)
    np.sqrt(variance, out=sd)
    if _is_log(check):
        sd *= growth_of(check, mean)


@dataclass(frozen=True, slots=True, eq=False)
class StickyRows:
    """Pairs of rows of a fault that comes and goes, `there` and `away`: numbers of rows.

    `stirred` keeps, by check, the chance (n_pairs,) that it brings each fault back.
    """

    there: NDArray[np.int64]
    away: NDArray[np.int64]
    stirred: dict[str, Array] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Table:
    """Rows, priors and predictions of one plant; immutable to callers (extra checks are cached).

    `rows` are the no-fault row, the plant's faults and the unmodelled row, in that order.
    `log_prior` (n_rows,) is normalised. `classes` are the repair classes in fixed order and
    `class_of` (n_rows,) the class of each row. `log_weights` (n_nuisance,). `fault_rows` are the
    rows of every fault by fault id. A table widened by rows of several faults knows its `base`;
    `stand_in` (None: none) gives for each such row the base row that answers for it elsewhere.
    `sticky` (None: none) are the rows of faults that come and go.
    """

    plant: Plant
    settings: Settings
    rows: tuple[Hypothesis, ...]
    log_prior: Array
    log_weights: Array
    classes: tuple[str, ...]
    class_of: NDArray[np.int64]
    fault_rows: Mapping[str, tuple[int, ...]]
    repairs: Mapping[str, Repair]
    checks: tuple[Check, ...]
    models: tuple[CheckModel, ...]
    places: Mapping[str, float]
    setups: Mapping[str, float]
    base: Table | None = None
    stand_in: NDArray[np.int64] | None = None
    sticky: StickyRows | None = None
    _extra: dict[Check, CheckModel] = field(default_factory=dict, repr=False)
    _grid: list[tuple[Floats, Floats]] = field(default_factory=list, repr=False)
    _shifts: list[tuple[Floats, Floats, Floats]] = field(default_factory=list, repr=False)
    _chances: list[Mapping[int, tuple[NDArray[np.int64], Floats]]] = field(
        default_factory=list, repr=False)
    _left: dict[tuple[str, ...], NDArray[np.int64]] = field(default_factory=dict, repr=False)
    _wider: dict[object, dict[object, Table]] = field(default_factory=dict, repr=False)

    def grid(self) -> tuple[Floats, Floats]:
        """Return means and variances of all checks, (n_checks, n_nuisance, n_rows), NaN if none.

        Single precision: enough to choose a check; the belief itself is computed in double.
        """
        if not self._grid:
            shape = (len(self.models), len(self.log_weights), len(self.rows))
            mean, variance = np.empty(shape, np.float32), np.empty(shape, np.float32)
            for column, model in enumerate(self.models):
                if model.levels is None:
                    _, mean[column], variance[column] = model.numbers()
                    variance[column] *= variance[column]
                else:
                    mean[column] = variance[column] = np.nan
            self._grid.append((mean, variance))
        return self._grid[0]

    def shifts(self) -> tuple[Floats, Floats, Floats]:
        """Return the middle mean (n_checks, n_rows), shifts and second moments against it.

        The latter two have the nuisance first, (n_nuisance, n_checks, n_rows): a fast average.
        """
        if not self._shifts:
            mean, variance = self.grid()
            checks, nuisance, rows = mean.shape
            shift = np.empty((nuisance, checks, rows), np.float32)
            second = np.empty(shift.shape, np.float32)
            middle = mean[:, nuisance // 2]
            for column in range(checks):  # one check's numbers stay in the processor's cache
                np.subtract(mean[column], middle[column], out=shift[:, column])
                np.square(shift[:, column], out=second[:, column])
                second[:, column] += variance[column]
            self._shifts.append((middle, shift, second))
        return self._shifts[0]

    def chances(self) -> Mapping[int, tuple[NDArray[np.int64], Floats]]:
        """Return for each number of levels the columns that have so many, and their chances.

        Those have shape (n_columns, n_levels, n_nuisance, n_rows), in single precision as `grid`.
        """
        if not self._chances:
            groups: dict[int, dict[int, Array]] = {}
            for column, model in enumerate(self.models):
                if model.levels is not None:
                    groups.setdefault(model.levels.shape[2], {})[column] = model.levels
            self._chances.append({
                count: (np.array(list(group), dtype=np.int64), np.ascontiguousarray(
                    np.stack(list(group.values()), dtype=np.float32, casting="same_kind")
                    .transpose(0, 3, 1, 2)))
                for count, group in groups.items()})
        return self._chances[0]

    def derived(self, key: object, build: Callable[[], Table]) -> Table:
        """Return the table made from this one that has a key: kept, or built.

        The last few of a sort stay: a key that begins with a word is of that sort.
        """
        sort = key[0] if isinstance(key, tuple) and isinstance(key[0], str) else type(key)
        return _remembered(self._wider.setdefault(sort, {}), key, build, _DERIVED)

    def left(self, key: tuple[str, ...], build: Callable[[], NDArray[np.int64]]
             ) -> NDArray[np.int64]:
        """Return what a set of repairs leaves of every row: kept, or built; the last few stay."""
        return _remembered(self._left, key, build, _LEFT)

    def model(self, check: Check) -> CheckModel:
        """Return the predictions of a check, asking the plant when it is not in the table."""
        found = self._extra.get(check)
        if found is None:
            found = self._asked(check)
            self._extra[check] = found
        return found

    def _asked(self, check: Check) -> CheckModel:
        if self.base is not None and self.stand_in is not None:
            return borrowed_model(self.base.model(check), self.stand_in)
        known = 0 if self.base is None else len(self.base.rows) - 1
        prediction = self.plant.predict(self.rows[known:-1], (check,))
        found = models_of(prediction, (check,), len(self.log_weights))[0]
        return found if self.base is None else joined_models(self.base.model(check), found)


def _remembered(store: dict[Key, Kept], key: Key, build: Callable[[], Kept], most: int) -> Kept:
    """Return what a store holds under a key, built where it does not; the last used stay."""
    found = store.pop(key, None)
    found = build() if found is None else found
    for old in list(store)[:max(len(store) - most + 1, 0)]:
        store.pop(old, None)  # another thread may have been quicker
    store[key] = found  # the newest is last
    return found


def _log(values: Array) -> Array:
    with np.errstate(divide="ignore"):
        result: Array = np.log(values)
    return result


def _priors(faults: tuple[Hypothesis, ...], settings: Settings) -> Array:
    """Return normalised log priors of no fault, faults, unmodelled.

    A job exists, so no fault starts at its set share; without a complaint factor (None) the rows
    keep the plant's own odds against the no-fault row.
    """
    odds = np.array([row.prior for row in faults], dtype=float)
    if odds.size and not np.all(odds > 0.0):
        raise UsageError("A fault row has a prior that is not above 0.")
    healthy = settings.complaint_no_fault
    if healthy is None:
        shares = np.concatenate([[NO_FAULT.prior], odds])
    else:
        total = max(float(odds.sum()), 1e-300)
        shares = np.concatenate([[healthy], (1.0 - healthy) * odds / total])
    shares = (1.0 - settings.unmodelled_prior) * shares / shares.sum()
    return _log(np.append(shares, settings.unmodelled_prior))


def fault_rows_of(faults: Sequence[Hypothesis]) -> Mapping[str, tuple[int, ...]]:
    """Return the rows of every fault by fault id; row 0 is no fault."""
    groups: dict[str, list[int]] = {}
    for number, row in enumerate(faults, start=1):
        if row.repair == UNMODELLED.repair:  # something unlisted is no fault that has a name
            continue
        groups.setdefault(row.fault_id, []).append(number)
    return {name: tuple(rows) for name, rows in groups.items()}


def joined_models(first: CheckModel, more: CheckModel) -> CheckModel:
    """Return the predictions of two groups of rows of one check; the unmodelled row stays last."""
    raw, mean, sd = (
        np.concatenate([one[:, :-1], other], axis=1)
        for one, other in ((first.raw, more.raw), (first.mean, more.mean), (first.sd, more.sd))
    )
    levels = None
    if first.levels is not None and more.levels is not None:
        levels = np.concatenate([first.levels[:, :-1], more.levels], axis=1)
    leaning = None
    if first.leaning is not None and more.leaning is not None:
        leaning = np.concatenate([first.leaning[:-1], more.leaning])
    return _frozen(CheckModel(first.check, raw, mean, sd, levels, leaning))


def borrowed_model(model: CheckModel, rows: NDArray[np.int64]) -> CheckModel:
    """Return the predictions with copies of some rows appended before the unmodelled one."""
    last = model.raw.shape[1] - 1
    order = np.concatenate([np.arange(last), rows, [last]])
    levels = None if model.levels is None else model.levels[:, order]
    leaning = None if model.leaning is None else model.leaning[order]
    return _frozen(CheckModel(
        model.check, model.raw[:, order], model.mean[:, order], model.sd[:, order], levels,
        leaning))


def models_of(
    prediction: Prediction, checks: tuple[Check, ...], nuisance: int
) -> tuple[CheckModel, ...]:
    """Return the predictions check by check, instrument included, the unmodelled row added."""
    if len(prediction.weights) != nuisance:
        raise UsageError("The plant changed its nuisance grid between two predictions.")
    return tuple(_model(prediction, column, check) for column, check in enumerate(checks))


def _with_unmodelled(values: Array, fill: float) -> Array:
    """Return values with a last row for the unmodelled fault."""
    pad = np.full((values.shape[0], 1, *values.shape[2:]), fill)
    return np.concatenate([values, pad], axis=1)


def _model(prediction: Prediction, column: int, check: Check) -> CheckModel:
    if check.levels:
        levels = np.asarray(prediction.levels[column], dtype=float)
        whole = (len(levels), levels.shape[1] + 1)
        if levels.strides[0] == 0:  # the same at every value of the nuisance: kept once
            levels = levels[:1]
        levels = _with_unmodelled(levels, 1.0 / len(check.levels))
        levels = np.broadcast_to(levels, (*whole, levels.shape[2]))
        blank = np.broadcast_to(np.nan, whole)
        return _frozen(CheckModel(check, blank, blank, blank, levels))
    leaning = None if prediction.leaning is None else np.append(prediction.leaning[column], 0.0)
    return LazyModel(check, functools.partial(_numbers, prediction, column, check), leaning)


def _numbers(prediction: Prediction, column: int, check: Check) -> tuple[Array, Array, Array]:
    """Return raw, mean and sd of a check that is a number, the unmodelled row added."""
    mean, variance = (np.asarray(part, dtype=float) for part in prediction.reading(column))
    raw, sd = np.empty((2, len(mean), mean.shape[1] + 1))
    raw[:, -1] = sd[:, -1] = np.nan
    raw[:, :-1] = mean
    _instrument_sd(check, mean, variance, sd[:, :-1])
    return raw, scaled(check, raw), sd


def _frozen(model: CheckModel) -> CheckModel:
    for array in (model.raw, model.mean, model.sd, model.levels, model.leaning):
        if array is not None:
            array.setflags(write=False)
    return model


def build_table(plant: Plant, settings: Settings | None = None) -> Table:
    """Predict every row of a plant at every check it offers, once.

    Rows are no fault, the plant's faults (severity cells already expanded) and one unmodelled
    fault whose readings are uniform. Raises UnknownNameError when a fault names a repair that the
    plant does not have, UsageError on a prior that is not positive.
    """
    used = settings or Settings()
    faults = tuple(plant.faults())
    repairs = dict(plant.repairs())
    for row in faults:
        if row.repair not in repairs:
            raise UnknownNameError("repair", row.repair, repairs)
    checks = tuple(plant.checks())
    prediction = plant.predict((NO_FAULT, *faults), checks)
    rows = (NO_FAULT, *faults, UNMODELLED)
    classes = (NO_REPAIR, *dict.fromkeys(row.repair for row in faults), UNMODELLED.repair)
    index = {name: number for number, name in enumerate(classes)}
    models = models_of(prediction, checks, len(prediction.weights))
    table = Table(
        plant=plant,
        settings=used,
        rows=rows,
        log_prior=_priors(faults, used),
        log_weights=_log(np.asarray(prediction.weights, dtype=float)),
        classes=classes,
        class_of=np.array([index[row.repair] for row in rows], dtype=np.int64),
        fault_rows=fault_rows_of(faults),
        repairs=repairs,
        checks=checks,
        models=models,
        places=dict(plant.places()),
        setups=dict(plant.setups()),
        _extra={model.check: model for model in models},
    )
    if models:
        table.shifts()
    return table
