"""Who may: teams, their people and what each may do."""
