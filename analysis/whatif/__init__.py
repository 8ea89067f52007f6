"""What another shift point, gear, mass, day or engine curve would do: a model made of one run, driven twice."""
