"""Live work with a rig: session, link, recording, guided sweeps, runs, foam samples, calibration and self-test."""
