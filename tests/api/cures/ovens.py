"""An oven, its logger's files, and a cure from start to end as one call."""

from typing import Any

from tests.conftest import NOW
from tests.logger_files import every, ramp, semicolons

LONG = {
    "delimiter": ",",
    "header_line": 1,
    "time_columns": [0],
    "time_kind": "elapsed_s",
    "layout": "long",
    "name_column": 1,
    "value_column": 2,
    "unit": "C",
}
# 40 K in 80 min, then 60 °C until minute 640: the band from 55 °C is reached at minute 70.
GOOD = {"root": ramp([(0, 20), (80, 60)]), "tip": ramp([(0, 20), (80, 60)]), "air": ramp([(0, 20), (30, 62)])}
NIGHT = every(5, until_min=650)


def start(api: Any, *parts: str, **more: Any) -> str:
    body = {"schedule": api.schedule["name"], "parts": list(parts) or [api.part], **more}
    return str(api.post("/v1/cures", body)["code"])


def send(api: Any, cure: str, raw: bytes, *, expect: int = 201, logger: int | None = None, **query: str) -> Any:
    """Add a file. Of the semicolon logger, what a test says nothing of measures something else."""
    if expect == 201 and logger is None:
        told = {name.partition("=")[0] for names in query.values() for name in names.split(",")}
        query.setdefault("elsewhere", ",".join(name for name in GOOD if name not in told))
    asked = "&".join(f"{k}={v}" for k, v in query.items() if v)
    answer = api.call("POST", f"/v1/cures/{cure}/logs?logger={logger or api.logger}&{asked}", raw)
    assert answer.status_code == expect, answer.get_data(as_text=True)
    return answer.get_json()


def cured(api: Any, curves: Any = GOOD, minutes: Any = NIGHT, probes: str = "root,tip") -> Any:
    """A cure from start to end with one file of the semicolon logger."""
    cure = start(api)
    api.shop.clock.forward(minutes=650)
    send(api, cure, semicolons(NOW, minutes, curves), part_probes=probes, air_probes="air")
    return api.post(f"/v1/cures/{cure}/end")
