"""What is printed, on a plain `page`: a `review`, several `runs`, a `bench` sheet, a `whatif`.

Drawn on paper: `paper`, `paper_event`.
"""
