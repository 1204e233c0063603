"""Files of measured sources, merged: search, pooling, the prior of an unmeasured source, export."""
