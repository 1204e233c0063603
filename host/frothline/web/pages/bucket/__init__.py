"""The bucket page: foam run, samples and batch."""
