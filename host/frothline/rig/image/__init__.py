"""The released firmware image, as ``make -C firmware image`` leaves it; a package so that it ships in the wheel."""
