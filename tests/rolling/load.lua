-- wrk's requests, and its summary as one line of JSON. Arguments: GET or POST.

local kind, count = "GET", 0

function init(arguments)
  kind = arguments[1]
  math.randomseed(os.time() + tonumber(tostring({}):match("0x(%x+)"), 16) % 65536)
end

function request()
  count = count + 1
  if kind == "POST" then
    return wrk.format("POST", "/v1/stops/convert", { ["content-type"] = "application/json" },
      '{"from": "f/8", "to": "f/11"}')
  end
  -- A new question nearly every time, so that the cache does not answer for the service.
  local to = math.random(10, 999999) / 1000
  return wrk.format("GET", "/v1/stops/convert?kind=distance&from=" .. (count % 1000 + 1) .. "&to=" .. to)
end

function done(summary)
  local errors = summary.errors
  io.write(string.format(
    '\n{"requests": %d, "connect": %d, "read": %d, "write": %d, "status": %d, "timeout": %d}\n',
    summary.requests, errors.connect, errors.read, errors.write, errors.status, errors.timeout))
end
