"""What is raised for a happening that names something the folder does not hold."""


class MisfitError(Exception):
    """The reason in words; nothing of the happening was worked in but its money and its pieces."""
