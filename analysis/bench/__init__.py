"""The flow bench and the dynamometer beside the track: geometry, gas speeds, where a curve falls off."""
