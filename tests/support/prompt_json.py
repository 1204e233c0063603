"""What a command printed with ``--json``."""

import json


def result_of(text):
    """The result inside the envelope that all commands share."""
    whole = json.loads(text)
    assert list(whole) == ["schema", "command", "units", "result"], list(whole)
    assert whole["schema"] == 1
    assert whole["units"] == "SI"
    return whole["result"]
