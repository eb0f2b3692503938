"""What is wrong, or weak, in a plan that can be read: with its place, why it matters and what to do."""
