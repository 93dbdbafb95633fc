"""Pages are tried in pinned letters, so that no test hangs on what a machine has installed."""

from __future__ import annotations

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.mark.parametrize("family", ["serif", "sans-serif", "monospace", "system-ui", "Noto Sans", "Georgia"])
def test_every_family_is_drawn_in_the_pinned_fonts(open_as, family):
    page = open_as(None)
    page.goto("/accounts/login/")
    page.evaluate(
        """async (family) => {
          document.body.innerHTML = '<p>Horn in B♭ and F♯: ẞüßen, Ünal, Đorđe</p>';
          document.querySelector('p').style.fontFamily = family;
          // Drawn: two frames on, the first has the letters.
          await document.fonts.ready;
          await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
        }""",
        family,
    )
    devtools = page.context.new_cdp_session(page)
    devtools.send("DOM.enable")
    devtools.send("CSS.enable")
    root = devtools.send("DOM.getDocument")["root"]["nodeId"]
    node = devtools.send("DOM.querySelector", {"nodeId": root, "selector": "p"})["nodeId"]
    used = {font["familyName"] for font in devtools.send("CSS.getPlatformFontsForNode", {"nodeId": node})["fonts"]}
    assert used
    assert used <= {"Source Sans 3", "Source Code Pro", "Kurinto Sans"}
