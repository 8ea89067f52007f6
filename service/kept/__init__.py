"""How the library keeps runs and cars; its door is `service/library.py`.

In: `whole_writes`, `run_files`, `cars`, `same_logs`; told as answers: `run_answers`. What a change needs:
`what_changed`. Out and back: `deleting`, `bringing_back`. Looked through and copied: `recheck`, `backup`.
"""
