"""Charts that answer the pointer and the keyboard, drawn in the browser.

The descriptions are the same as those of the still pictures. They are compiled here, so that the
browser needs neither the compiler nor leave to run generated code (static/charts.js).
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

import vl_convert

from nightglass.gear.lens import Lens
from nightglass.page.standings import setting_address


def live_chart(chart: Any, lenses: Sequence[Lens]) -> str:
    """Return a chart as JSON for the browser.

    A row of its data that names a setting (`where`) gets the `address` of that setting's page,
    below the bench; lenses: of the bench, in its order.
    """
    drawn = vl_convert.vegalite_to_vega(chart.to_dict(validate=False))
    for data in drawn.get("data", ()):
        for row in data.get("values", ()):
            if isinstance(row, dict) and (where := row.pop("where", None)):
                row["address"] = setting_address(**where, lenses=lenses)
    return json.dumps(drawn, ensure_ascii=False, allow_nan=False)
