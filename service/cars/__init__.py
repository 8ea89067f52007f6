"""What is told of a car beside its figures: `corrections`, `usuals`, `kept_sheets`, and what differs: `car_between`."""
