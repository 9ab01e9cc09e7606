// Ask the page to go elsewhere.

export const go = (place, given = {}, options = {}) => {
  const query = new URLSearchParams();
  for (const [key, value] of Object.entries(given))
    for (const one of [value].flat()) if (one) query.append(key, one);
  const text = query.toString();
  document.dispatchEvent(
    new CustomEvent("blendkit-go", { detail: { path: `/${place}${text ? `?${text}` : ""}`, ...options } }),
  );
};
