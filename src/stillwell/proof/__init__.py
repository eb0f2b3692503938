"""The proof: how soon will somebody know, at every hour, with any one part broken."""
