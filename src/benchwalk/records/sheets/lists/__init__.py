"""Lists that are no counts: what stands where, where cards hang, what was treated, the climate."""
