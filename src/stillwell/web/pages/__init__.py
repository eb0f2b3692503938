"""The pages: what each shows, made from plan, record and store, and what may be done there."""
