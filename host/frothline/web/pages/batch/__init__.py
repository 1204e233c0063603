"""The batch page: recipe, amounts and corrections at the mixer."""
