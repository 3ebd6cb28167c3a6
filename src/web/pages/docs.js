// Starts Swagger UI on the document of this service.
"use strict";

/**
 * Has the first examples of an operation's parameters be of one question. Swagger UI fills each field with the first of
 * its own, and an object that has none with whatever its schema allows; taken together these are no question.
 */
function agree(document) {
  const nothing = { summary: "left out", value: "" };
  for (const { parameters = [] } of Object.values(document.paths).flatMap(Object.values)) {
    const [name] = parameters.flatMap(({ examples = {} }) => Object.keys(examples));
    for (const parameter of parameters) {
      if (!parameter.examples && parameter.style !== "deepObject") continue;
      const first = { [name]: parameter.examples?.[name] ?? nothing };
      parameter.examples = { ...first, ...parameter.examples };
    }
  }
  return document;
}

const agreeing = () => ({
  statePlugins: { spec: { wrapActions: { updateJsonSpec: (update) => (document) => update(agree(document)) } } },
});

/** Shows an answer that is a picture as one. Swagger UI shows the source of an SVG. As an image it runs no script and loads nothing. */
const drawing = ({ React: { createElement } }) => ({
  wrapComponents: {
    responseBody: (Original) => (props) => {
      if (!props.contentType?.startsWith("image/svg+xml")) return createElement(Original, props);
      const described = new DOMParser().parseFromString(props.content, "image/svg+xml").querySelector("desc");
      const src = `data:image/svg+xml,${encodeURIComponent(props.content)}`;
      const picture = createElement("img", { className: "picture", src, alt: described?.textContent ?? "" });
      return createElement("div", null, createElement("h5", null, "Response body"), picture);
    },
  },
});

document.documentElement.classList.toggle("dark-mode", matchMedia("(prefers-color-scheme: dark)").matches);
SwaggerUIBundle({
  url: "/openapi.json",
  dom_id: "#swagger-ui",
  deepLinking: true,
  validatorUrl: "none",
  // Every operation shows the schemas that it has; the list of all of them doubles the time that the page takes.
  defaultModelsExpandDepth: -1,
  plugins: [agreeing, drawing],
});
