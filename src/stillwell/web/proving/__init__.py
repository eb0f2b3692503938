"""The proof behind the page: worked out once for each plan, and put into words."""
