"""An open page does not grow: nothing of a message stays once it is drawn."""

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.soak]

SECONDS = 180.0
WARM = 30.0  # s in which compiled code and caches still grow


def test_a_page_that_is_open_for_minutes_keeps_less_than_two_kilobytes_a_message():
    """A message is 30 to 100 kB of JSON. 2 kB at 20 messages a second are 2.4 MB a minute at most."""
    from measure_viewers import Opened, chromium, growth, served

    with served() as (address, _), chromium() as browser:
        opened = Opened(browser, address)
        growth(opened, WARM)
        messages, each, _ = growth(opened, SECONDS)
    assert messages > 100
    assert each < 2000
