"""What we say of records that are sound by themselves but don't fit what is held."""

CONFLICT = "is held already with other content, which stays as it was"
CIRCULAR = "leads back to the record itself by what is held already"
