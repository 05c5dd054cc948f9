"""A table with more rows: what was predicted stays, only the new rows are asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from loomwright.diagnosis.table import (
    CheckModel,
    Table,
    borrowed_model,
    fault_rows_of,
    joined_models,
    models_of,
)
from loomwright.plant import Check, Hypothesis

__all__ = ["NewRows", "with_rows"]

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class NewRows:
    """Rows to append: their log priors on the table's scale, and the repair class of each.

    `stand_in`: for each, the row of the table that tells what it shows where it is not predicted.
    """

    rows: tuple[Hypothesis, ...]
    log_prior: Array
    repairs: tuple[str, ...]
    stand_in: NDArray[np.int64] | None = None


def with_rows(table: Table, new: NewRows, checks: Sequence[Check] | None = None) -> Table:
    """Return a new table with rows appended before the unmodelled one; priors sum to one again.

    `checks`: only these are predicted. Then, with stand-ins the other checks of the table are
    answered by those; without, only these are offered. None: all of the table's are predicted.
    """
    base = table.base or table
    asked = table.checks if checks is None else tuple(dict.fromkeys(checks))
    known = _predicted(base, new, asked)
    offered = table.checks if new.stand_in is not None else asked
    models = tuple(
        known[check] if check in known else borrowed_model(base.model(check), _stand_in(new))
        for check in offered
    )
    rows = (*base.rows[:-1], *new.rows, base.rows[-1])
    log_prior = np.concatenate([base.log_prior[:-1], new.log_prior, base.log_prior[-1:]])
    top = float(log_prior.max())
    index = {name: number for number, name in enumerate(base.classes)}
    more_classes = np.array([index[name] for name in new.repairs], dtype=np.int64)
    return replace(
        base,
        rows=rows,
        log_prior=log_prior - top - np.log(np.exp(log_prior - top).sum()),
        class_of=np.concatenate([base.class_of[:-1], more_classes, base.class_of[-1:]]),
        fault_rows=fault_rows_of(rows[1:-1]),
        checks=offered,
        models=models,
        base=base,
        stand_in=new.stand_in,
        _extra=known | {model.check: model for model in models},
        _grid=[],
        _shifts=[],
        _chances=[],
        _left={},
        _wider={},
    )


def _predicted(base: Table, new: NewRows, asked: Sequence[Check]) -> dict[Check, CheckModel]:
    if not asked:
        return {}
    prediction = base.plant.predict(new.rows, asked)
    found = models_of(prediction, tuple(asked), len(base.log_weights))
    return {
        check: joined_models(base.model(check), more)
        for check, more in zip(asked, found, strict=True)
    }


def _stand_in(new: NewRows) -> NDArray[np.int64]:
    return np.zeros(len(new.rows), dtype=np.int64) if new.stand_in is None else new.stand_in
