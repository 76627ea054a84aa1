-- A trigger that looks into another table finds the plant's own, whatever path the session has set. A running older version goes on.
ALTER FUNCTION "refuse_released_characteristic"() SET search_path = public, pg_temp;
