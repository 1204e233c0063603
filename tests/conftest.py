"""How all tests run: in several processes, without a clock of their own."""

import pytest
from hypothesis import HealthCheck, settings

# On a busy machine an example may take as long as it likes.
settings.register_profile("everyday", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("everyday")


@pytest.hookimpl(tryfirst=True)  # before the plugin that reads the groups
def pytest_collection_modifyitems(items):
    """Tests that share an expensive fixture run in one process: the fixture is made once.

    Files with a fixture of the module's scope are kept together, as are all tests of a folder that share one of the
    session's scope. Every other test goes to whichever process is free.
    """
    for item in items:
        if group := group_of(item):
            item.add_marker(pytest.mark.xdist_group(group))


def group_of(item):
    defined = [one for found in item._fixtureinfo.name2fixturedefs.values() for one in found]
    ours = {one.scope: one for one in defined if one.baseid and one.func.__module__ != "pytest"}
    if "session" in ours:
        return ours["session"].baseid
    if item.get_closest_marker("browser") is not None or {"module", "class"} & ours.keys():
        return item.nodeid.partition("::")[0]
    return ""
