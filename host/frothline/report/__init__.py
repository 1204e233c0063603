"""Reports: one self-contained HTML file each, for screen and paper. Nothing in them is fetched from anywhere."""
