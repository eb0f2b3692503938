"""The signals of a home over past time: values, columns, records; to and from text and bytes."""
