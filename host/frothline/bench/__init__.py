"""What a person does at the bench: hold a session with a rig, sweep an air source, record it."""
