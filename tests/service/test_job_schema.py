"""The JSON Schema of the job file: what the program writes is valid by it, a slip is not."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from loomwright.service.job_transfer import export_text, job_file_schema
from loomwright.service.jobs import Workshop
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in


@pytest.mark.parametrize("job", [TRUCK_4, TRUCK_7])
def test_an_exported_job_is_valid(tmp_path: Path, job: int) -> None:
    schema = job_file_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    written = json.loads(export_text(Workshop(depot_in(tmp_path)), job))
    jsonschema.validate(written, schema)
    assert schema["title"] == "Loomwright job file"
    for slip in ({"loomwright_job": 2}, {"more": 1}, {"events": [{"number": 0}]}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({**written, **slip}, schema)
