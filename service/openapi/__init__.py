"""What the service says of itself: `document`; forms of answers: `answer_schemas`, `item_schemas`, `job_schemas`."""
