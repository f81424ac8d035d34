"""axe-core in a page: what keeps somebody from using it, in one line each."""

from pathlib import Path

import axe_playwright_python

SCRIPT = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
"""axe-core (Mozilla Public License 2.0), used by the tests only."""


def violations(page):
    """Every violation on ``page`` as "rule (impact): selector"; () for none.

    The script is run by the driver, outside the page's content security policy.
    """
    page.evaluate(SCRIPT)
    found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
    assert found["passes"], "axe looked at nothing"
    return tuple(
        f"{rule['id']} ({rule['impact']}): {' '.join(map(str, node['target']))}"
        for rule in found["violations"]
        for node in rule["nodes"]
    )
