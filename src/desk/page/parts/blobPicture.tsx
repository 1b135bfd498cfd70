/** A picture that needs the secret: fetched, shown as a blob, and given back. */
import { useEffect, useState } from 'preact/hooks';

/** Shows what `load` gives. A new `key` loads again. */
export function BlobPicture({
  load,
  alt,
  missing,
  class: kind,
}: {
  load: () => Promise<Blob>;
  alt: string;
  /** What stands there where no picture can be had. */
  missing: string;
  class: string;
}) {
  const [source, setSource] = useState<string | null>(null);
  const [failed, setFailed] = useState(false);
  useEffect(() => {
    let address: string | null = null;
    let wanted = true;
    load()
      .then((blob) => {
        if (!wanted) return;
        address = URL.createObjectURL(blob);
        setSource(address);
      })
      .catch(() => wanted && setFailed(true));
    return () => {
      wanted = false;
      if (address !== null) URL.revokeObjectURL(address);
    };
  }, []);
  if (failed) return <p class={`${kind} muted missing`}>{missing}</p>;
  return source === null ? <div class={`${kind} waiting`} /> : <img class={kind} src={source} alt={alt} />;
}
