"""The light over the field: what evenly lit frames tell of each lens setting."""
