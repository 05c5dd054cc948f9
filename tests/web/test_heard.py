"""What is heard of a relay: offered as buttons and kept like any other reading."""

from __future__ import annotations

from pathlib import Path

from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import client_in

HEARD = {"state": "locking", "quantity": "heard", "at": "K3", "to": "", "value": "click",
         "unit": "", "instrument": "ear", "key": "heard-key"}


def test_a_click_is_pressed_and_stands_among_the_readings(tmp_path: Path) -> None:
    with client_in(tmp_path) as client:
        page = client.get(f"/jobs/{TRUCK_7}?state=locking&quantity=heard&at=K3").text
        assert "What is heard at K3" in page
        for level in ("silent", "click", "chatter"):
            assert f'value="{level}" class="level' in page
        assert client.post(f"/jobs/{TRUCK_7}/readings", data=HEARD).status_code == 303
        after = client.get(f"/jobs/{TRUCK_7}").text
        assert "What is heard at K3" in after
        assert "<b>click</b>" in after or ">click<" in after
