"""The answers of --json as a page of the book, from `slenderjet schema` and `slenderjet schema COMMAND`; the program's path is the argument."""

import json
import subprocess
import sys

program = sys.argv[1]


def told(*arguments):
    return json.loads(subprocess.run([program, *arguments], check=True, capture_output=True, text=True).stdout)


def cell(text):
    return str(text).replace("|", "\\|").replace("\n", " ")


def kind(field, defs, inner):
    """A type in words; objects are named, and listed in `inner`."""
    if "$ref" in field:
        name = field["$ref"].rsplit("/", 1)[1]
        words = values(defs[name])
        if words:
            return " or ".join(f"`{w}`" for w in words)
        inner.append(name)
        return f"object, [{name}](#{name.lower()})"
    if "anyOf" in field:
        return " or ".join(kind(part, defs, inner) for part in field["anyOf"])
    if "oneOf" in field:
        return " or ".join(kind(part, defs, inner) for part in field["oneOf"])
    if "enum" in field:
        return " or ".join(f"`{word}`" for word in field["enum"])
    if field.get("type") == "object" and len(field.get("properties", {})) == 1 and field.get("additionalProperties") is False:
        ((name, part),) = field["properties"].items()
        return f"object of `{name}`: {kind(part, defs, inner)}"
    if field.get("type") == "array":
        items = field.get("items", {})
        if "prefixItems" in field:
            return "array of " + ", ".join(kind(part, defs, inner) for part in field["prefixItems"])
        size = f"{field['maxItems']} " if field.get("maxItems") == field.get("minItems", -1) else ""
        return f"array of {size}{kind(items, defs, inner)}"
    if field.get("type") == "object" and isinstance(field.get("additionalProperties"), dict):
        return "object: of each key " + kind(field["additionalProperties"], defs, inner)
    if "const" in field:
        return f"`{field['const']}`"
    types = field.get("type", "any")
    types = [types] if isinstance(types, str) else types
    return " or ".join("whole number" if t == "integer" else t for t in types)


def values(schema):
    """The words that a type allows, if it is one of words."""
    if "enum" in schema:
        return schema["enum"]
    parts = schema.get("oneOf", [])
    words = [w for part in parts for w in part.get("enum", [part["const"]] if "const" in part else [])]
    return words if parts and all("enum" in p or "const" in p for p in parts) else []


def table(schema, defs):
    inner = []
    print("| key | type | what it is |\n| --- | --- | --- |")
    for name, field in schema.get("properties", {}).items():
        print(f"| `{name}` | {cell(kind(field, defs, inner))} | {cell(field.get('description', ''))} |")
    extra = schema.get("additionalProperties")
    if isinstance(extra, dict):
        print(f"| any other | {cell(kind(extra, defs, inner))} | under its own name |")
    print()
    return inner


print("# Answers of `--json`\n")
print("Written by `scripts/book.sh` from `slenderjet schema`; do not edit. Every answer also has `schema` (its name) and `version` (that of the")
print("program). SI units, in the names; what is missing is `null`. New keys may come; those below stay. An object that several answers share")
print("is told once, at its first use.")
done = set()
commands = sorted({entry["command"] for entry in told("schema", "--json")["schemas"]})
for command in commands:
    schema = told("schema", command)
    defs = schema["$defs"]
    for part in schema.get("oneOf", [schema]):
        when = f", {part['$comment']}" if "$comment" in part else ""
        print(f"\n## `{command}`: {part['properties']['schema']['const']}{when}\n")
        whole = {**defs[part["$ref"].rsplit("/", 1)[1]]} if "$ref" in part else part
        queue = table(whole, defs)
        while queue:
            name = queue.pop(0)
            if name in done:
                continue
            done.add(name)
            print(f"### {name}\n")
            if "description" in defs[name]:
                print(cell(defs[name]["description"]) + "\n")
            if "properties" in defs[name]:
                queue += table(defs[name], defs)
            else:
                print(cell(kind(defs[name], defs, queue)) + "\n")
