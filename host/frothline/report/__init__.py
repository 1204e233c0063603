"""Reports: one self-contained HTML file each, for screen and paper, without network access."""
