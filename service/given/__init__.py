"""What users tell: of cars, slips and air (`facts`), of a run (`details`), when it was made (`when_made`).

`told_meanwhile`: two people who tell of the same thing at once.
"""
