/** Whether the process answers at all, without asking the database (that is /api/v1/health). Also the floor of the benches. */
export function GET(): Response {
  return Response.json({ alive: true });
}
