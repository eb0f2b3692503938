"""What would help: for a missed deadline, the smallest single changes of the plan that meet it, each proved."""
