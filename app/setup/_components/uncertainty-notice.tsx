import { ErrorNotice } from "@/lib/ui/error-notice";

/** What of the uncertainty uses much of a tolerance; nothing where nothing does. */
export function UncertaintyNotice({ warnings }: Readonly<{ warnings: readonly string[] }>) {
  if (warnings.length === 0) return null;
  return (
    <ErrorNotice tone="caution" title="The uncertainty uses much of a tolerance">
      {warnings.map((warning) => (
        <p key={warning}>{warning}</p>
      ))}
    </ErrorNotice>
  );
}
