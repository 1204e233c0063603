"""URL handlers for pyserial: it looks here for ``protocol_<scheme>`` once ``rig.port.register_handlers`` has been
called.
"""
