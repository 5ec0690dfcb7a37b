// The part of Vega that draws the page's charts: no geography, no layouts, no loading of data.
// The interpreter stands in for generated code, which the page's policy forbids.
import { transforms } from "vega-dataflow";
import * as encode from "vega-encode";
import { expressionInterpreter } from "vega-interpreter";
import { parse } from "vega-parser";
import * as tables from "vega-transforms";
import { View } from "vega-view";
import * as views from "vega-view-transforms";

Object.assign(transforms, tables, views, encode);

window.vegaDrawing = { View, expressionInterpreter, parse };
